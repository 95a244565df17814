using System.Globalization;
using System.Text.Json;

namespace Station.Daemon.Configuration;

/// <summary>Finds the line of every key in a JSON text, so that a problem can be told where it stands.</summary>
internal static class KeyLines
{
    /// <param name="json">Without a byte order mark.</param>
    /// <param name="faults">What no key may be, whatever the sections are: there twice, named like a path, or an item of a list that is null.</param>
    /// <returns>Line (from 1) by path; array items are <c>[0]</c>, <c>[1]</c> …, as in <c>Alerts.Webhooks.[0].Url</c>.</returns>
    /// <exception cref="JsonException">The text is no JSON.</exception>
    public static Dictionary<string, int> Find(ReadOnlySpan<byte> json, out List<(string Fault, int Line)> faults)
    {
        var lines = new Dictionary<string, int>(StringComparer.Ordinal);
        faults = [];
        var path = new Stack<Level>();
        var reader = new Utf8JsonReader(json, new JsonReaderOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
        int line = 1;
        int counted = 0;
        while (reader.Read())
        {
            int start = (int)reader.TokenStartIndex;
            line += json[counted..start].Count((byte)'\n');
            counted = start;
            switch (reader.TokenType)
            {
                case JsonTokenType.StartObject or JsonTokenType.StartArray:
                    path.Push(new Level(NextName(path), reader.TokenType == JsonTokenType.StartArray));
                    break;
                case JsonTokenType.EndObject or JsonTokenType.EndArray:
                    path.Pop();
                    break;
                case JsonTokenType.PropertyName:
                    string name = reader.GetString()!;
                    path.Peek().Property = name;
                    string key = KeyOf(path, name);
                    if (name.Contains('.', StringComparison.Ordinal) || name.StartsWith('['))
                    {
                        faults.Add(($"unknown key '{key}'; sections stand inside each other: {{ \"Station\": {{ \"Folder\": … }} }}", line));
                    }
                    else if (!lines.TryAdd(key, line))
                    {
                        faults.Add(($"the key '{key}' stands there twice", line));
                    }

                    break;
                default:
                    string item = NextName(path);
                    if (reader.TokenType == JsonTokenType.Null && path.TryPeek(out Level? list) && list.IsArray)
                    {
                        faults.Add(($"{KeyOf(path, item)}: a list has no item that is null", line));
                    }

                    break;
            }
        }

        return lines;
    }

    private static string KeyOf(Stack<Level> path, string name) =>
        string.Join('.', path.Reverse().Select(l => l.Name).Append(name).Where(n => n.Length > 0));

    /// <summary>What the value that begins now is called in its parent.</summary>
    private static string NextName(Stack<Level> path)
    {
        if (!path.TryPeek(out Level? parent))
        {
            return "";
        }

        return parent.IsArray ? string.Create(CultureInfo.InvariantCulture, $"[{parent.Items++}]") : parent.Property;
    }

    private sealed class Level(string name, bool isArray)
    {
        public string Name { get; } = name;

        public bool IsArray { get; } = isArray;

        public int Items { get; set; }

        public string Property { get; set; } = "";
    }
}
