namespace Station.Daemon.Configuration;

/// <summary>Reads a secret that the configuration only points at: the secret itself never stands in the configuration file.</summary>
internal static class SecretText
{
    /// <summary>Longer files are no secret but a mistake.</summary>
    private const int MaxBytes = 4096;

    /// <param name="file">Absolute path of a file that holds nothing but the secret; null when the other is used.</param>
    /// <param name="environment">Name of an environment variable; null when the other is used.</param>
    /// <param name="key">What messages call the setting, as in <c>Alerts.Webhooks 'house'</c>.</param>
    /// <param name="problems">Gets one line when there is no secret to be had; the secret is never in it.</param>
    /// <returns>The secret without surrounding blanks, or null.</returns>
    public static string? Read(string? file, string? environment, string key, List<string> problems)
    {
        string? secret = null;
        string? problem = file is not null ? FromFile(file, out secret) : FromEnvironment(environment!, out secret);
        if (problem is null && string.IsNullOrWhiteSpace(secret))
        {
            problem = file is not null ? $"the secret file {file} is empty" : $"the environment variable {environment} is empty";
        }

        if (problem is not null)
        {
            problems.Add($"{key}: {problem}.");
            return null;
        }

        return secret!.Trim();
    }

    private static string? FromEnvironment(string variable, out string? secret)
    {
        secret = Environment.GetEnvironmentVariable(variable);
        return secret is null ? $"the environment variable {variable} is not set" : null;
    }

    private static string? FromFile(string path, out string? secret)
    {
        secret = null;
        try
        {
            if (!OperatingSystem.IsWindows() && (File.GetUnixFileMode(path) & (UnixFileMode.OtherRead | UnixFileMode.OtherWrite)) != UnixFileMode.None)
            {
                return $"the secret file {path} can be read or written by everybody on this machine; chmod 600 it";
            }

            using FileStream stream = File.OpenRead(path);
            byte[] bytes = new byte[MaxBytes + 1];
            int length = stream.ReadAtLeast(bytes, bytes.Length, throwOnEndOfStream: false);
            if (length > MaxBytes)
            {
                return $"the secret file {path} is longer than {MaxBytes} bytes";
            }

            secret = System.Text.Encoding.UTF8.GetString(bytes, 0, length);
            return null;
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            return $"the secret file {path} can't be read: {error.Message.TrimEnd('.')}";
        }
    }
}
