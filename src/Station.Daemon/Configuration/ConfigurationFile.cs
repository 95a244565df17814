using System.Collections;
using System.Collections.Immutable;
using System.ComponentModel.DataAnnotations;
using System.Globalization;
using System.Reflection;
using System.Text.Json;

namespace Station.Daemon.Configuration;

/// <summary>
/// Reads the configuration file: JSON with comments. Strict: an unknown key, a value of the wrong kind or out of its range stops the
/// start, each with its line. All problems are told at once.
/// </summary>
internal static class ConfigurationFile
{
    private static readonly JsonSerializerOptions Reading = new()
    {
        ReadCommentHandling = JsonCommentHandling.Skip,
        AllowTrailingCommas = true,
        RespectNullableAnnotations = true,
    };

    /// <summary>Reads and checks one file.</summary>
    /// <typeparam name="T">One member a section, every one with working defaults.</typeparam>
    /// <param name="path">The file; null means defaults throughout.</param>
    /// <exception cref="ConfigurationException">The file is missing, is no JSON, or breaks a rule; one line a problem.</exception>
    public static T Load<T>(string? path)
        where T : class, new()
    {
        if (path is null)
        {
            return new T();
        }

        byte[] bytes;
        try
        {
            bytes = File.ReadAllBytes(path);
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            throw new ConfigurationException([$"{path}: {error.Message}"]);
        }

        return Parse<T>(bytes, path);
    }

    /// <summary>Checks one section after the command line changed it.</summary>
    /// <param name="origin">The option that changed it, for the message.</param>
    /// <exception cref="ConfigurationException">A rule is broken.</exception>
    public static void ThrowIfInvalid(object section, string origin)
    {
        var results = new List<ValidationResult>();
        if (!Validator.TryValidateObject(section, new ValidationContext(section), results, validateAllProperties: true))
        {
            throw new ConfigurationException([.. results.Select(r => $"{origin}: {r.ErrorMessage}")]);
        }
    }

    /// <param name="name">What messages call the file.</param>
    public static T Parse<T>(ReadOnlySpan<byte> json, string name)
        where T : class, new()
    {
        ReadOnlySpan<byte> byteOrderMark = [0xEF, 0xBB, 0xBF];
        if (json.StartsWith(byteOrderMark))
        {
            json = json[byteOrderMark.Length..];
        }

        var problems = new List<string>();
        Dictionary<string, int> lines;
        try
        {
            lines = KeyLines.Find(json, out List<(string Key, int Line)> repeated);
            problems.AddRange(repeated.Select(r => At(name, r.Line, $"the key '{r.Key}' stands there twice")));
        }
        catch (JsonException error)
        {
            throw new ConfigurationException([At(name, (int)(error.LineNumber ?? 0) + 1, "no valid JSON: " + FirstSentence(error.Message))]);
        }

        foreach ((string key, int line) in lines.OrderBy(l => l.Value))
        {
            CheckKey(typeof(T), key, line, name, problems);
        }

        if (problems.Count > 0)
        {
            throw new ConfigurationException([.. problems]);
        }

        T configuration;
        try
        {
            configuration = JsonSerializer.Deserialize<T>(json, Reading) ?? throw new JsonException("The file holds null.");
        }
        catch (JsonException error)
        {
            string key = (error.Path ?? "$").TrimStart('$').TrimStart('.');
            throw new ConfigurationException([At(name, (int)(error.LineNumber ?? 0) + 1, $"{key}: the value is not of the kind expected there")]);
        }

        Validate(configuration, "", lines, name, problems);
        if (problems.Count > 0)
        {
            throw new ConfigurationException([.. problems]);
        }

        return configuration;
    }

    private static void CheckKey(Type type, string key, int line, string name, List<string> problems)
    {
        string[] parts = key.Split('.');
        for (int i = 0; i < parts.Length; i++)
        {
            if (parts[i].StartsWith('['))
            {
                type = ElementType(type);
                continue;
            }

            PropertyInfo[] properties = Settable(type);
            if (properties.FirstOrDefault(p => p.Name == parts[i]) is { } property)
            {
                type = Nullable.GetUnderlyingType(property.PropertyType) ?? property.PropertyType;
                continue;
            }

            // A wrong key is told once, at itself; what stands below it is not looked at.
            if (i == parts.Length - 1)
            {
                string? near = Nearest(parts[i], properties.Select(p => p.Name));
                string hint = near is null ? $"known there: {string.Join(", ", properties.Select(p => p.Name))}" : $"did you mean '{near}'?";
                problems.Add(At(name, line, $"unknown key '{key}'; {hint}"));
            }

            return;
        }
    }

    private static void Validate(object value, string path, Dictionary<string, int> lines, string name, List<string> problems)
    {
        var results = new List<ValidationResult>();
        Validator.TryValidateObject(value, new ValidationContext(value), results, validateAllProperties: true);
        foreach (ValidationResult result in results)
        {
            string member = result.MemberNames.FirstOrDefault() ?? "";
            string key = Join(path, member);
            problems.Add(At(name, LineOf(key, lines), $"{key}: {result.ErrorMessage}"));
        }

        foreach (PropertyInfo property in Settable(value.GetType()))
        {
            object? inner = property.GetValue(value);
            string key = Join(path, property.Name);
            if (inner is IEnumerable list and not string)
            {
                int index = 0;
                foreach (object? item in list)
                {
                    if (item is not null && IsSection(item.GetType()))
                    {
                        Validate(item, string.Create(CultureInfo.InvariantCulture, $"{key}.[{index}]"), lines, name, problems);
                    }

                    index++;
                }
            }
            else if (inner is not null && IsSection(property.PropertyType))
            {
                Validate(inner, key, lines, name, problems);
            }
        }
    }

    private static bool IsSection(Type type) => type.IsClass && type.Namespace?.StartsWith("Station.", StringComparison.Ordinal) == true;

    private static PropertyInfo[] Settable(Type type) =>
        [.. type.GetProperties(BindingFlags.Public | BindingFlags.Instance).Where(p => p.SetMethod is { IsPublic: true })];

    private static Type ElementType(Type type) => type.IsArray ? type.GetElementType()! : type.GetGenericArguments().FirstOrDefault() ?? typeof(object);

    private static string Join(string path, string name) => path.Length == 0 ? name : name.Length == 0 ? path : path + "." + name;

    private static int LineOf(string key, Dictionary<string, int> lines)
    {
        for (string k = key; k.Length > 0; k = k[..Math.Max(0, k.LastIndexOf('.'))])
        {
            if (lines.TryGetValue(k, out int line))
            {
                return line;
            }
        }

        return 1;
    }

    private static string At(string name, int line, string problem) => string.Create(CultureInfo.InvariantCulture, $"{name}, line {line}: {problem}");

    private static string FirstSentence(string message)
    {
        int end = message.IndexOf(" LineNumber", StringComparison.Ordinal);
        return (end < 0 ? message : message[..end]).ReplaceLineEndings(" ");
    }

    /// <summary>The known name at most three letters away, which covers the usual slips.</summary>
    private static string? Nearest(string word, IEnumerable<string> known) =>
        known.Select(k => (Name: k, Distance: EditDistance(word.ToUpperInvariant(), k.ToUpperInvariant())))
            .Where(k => k.Distance <= Math.Min(3, word.Length / 2))
            .OrderBy(k => k.Distance).Select(k => k.Name).FirstOrDefault();

    private static int EditDistance(string a, string b)
    {
        int[] row = [.. Enumerable.Range(0, b.Length + 1)];
        for (int i = 1; i <= a.Length; i++)
        {
            int diagonal = row[0];
            row[0] = i;
            for (int j = 1; j <= b.Length; j++)
            {
                int above = row[j];
                row[j] = Math.Min(Math.Min(row[j], row[j - 1]) + 1, diagonal + (a[i - 1] == b[j - 1] ? 0 : 1));
                diagonal = above;
            }
        }

        return row[b.Length];
    }
}
