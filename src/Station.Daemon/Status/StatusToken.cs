using System.Security.Cryptography;
using System.Text;
using Station.Daemon.Configuration;

namespace Station.Daemon.Status;

/// <summary>The token that allows decisions over the network.</summary>
internal sealed class StatusToken
{
    private const int LeastCharacters = 16;
    private const int MostCharacters = 256;

    private readonly byte[]? _digest;

    private StatusToken(string? token) => _digest = token is null ? null : Digest(token);

    public bool IsConfigured => _digest is not null;

    /// <exception cref="ConfigurationException">The token is missing where one is configured, open to everybody, too short or too long.</exception>
    public static StatusToken Load(StatusOptions options)
    {
        if (!options.HasToken)
        {
            return new StatusToken(token: null);
        }

        string key = $"{StatusOptions.Section}.{(options.TokenFile is not null ? nameof(StatusOptions.TokenFile) : nameof(StatusOptions.TokenEnvironment))}";
        var problems = new List<string>();
        string? token = SecretText.Read(options.TokenFile, options.TokenEnvironment, key, problems);
        if (token is not null && (token.Length is < LeastCharacters or > MostCharacters || token.Any(c => c is <= ' ' or > '~')))
        {
            problems.Add($"{key}: the token must be {LeastCharacters} to {MostCharacters} plain characters without blanks.");
        }

        return problems.Count == 0 ? new StatusToken(token) : throw new ConfigurationException([.. problems]);
    }

    /// <summary>True when <paramref name="given"/> is the token. Digests of equal length are compared, in constant time.</summary>
    public bool Matches(string given) => _digest is not null && CryptographicOperations.FixedTimeEquals(_digest, Digest(given));

    private static byte[] Digest(string token) => SHA256.HashData(Encoding.UTF8.GetBytes(token));
}
