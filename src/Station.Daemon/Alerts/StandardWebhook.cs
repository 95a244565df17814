using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace Station.Daemon.Alerts;

/// <summary>Signs messages as Standard Webhooks 1.0.0 says (symmetric scheme <c>v1</c>). Pure.</summary>
internal sealed class StandardWebhook
{
    public const string IdHeader = "webhook-id";
    public const string TimestampHeader = "webhook-timestamp";
    public const string SignatureHeader = "webhook-signature";

    /// <summary>Standard Webhooks 1.0.0, "Signature scheme": the secret is 24 to 64 random bytes, shown in base64 behind this.</summary>
    private const string SecretPrefix = "whsec_";
    private const int LeastSecretBytes = 24;
    private const int MostSecretBytes = 64;

    private readonly byte[] _key;

    private StandardWebhook(byte[] key) => _key = key;

    /// <param name="secret"><c>whsec_</c> and base64 of 24 to 64 bytes.</param>
    /// <param name="problem">What is wrong with it; never holds the secret.</param>
    public static bool TryCreate(string secret, [NotNullWhen(true)] out StandardWebhook? webhook, [NotNullWhen(false)] out string? problem)
    {
        webhook = null;
        problem = null;
        if (!secret.StartsWith(SecretPrefix, StringComparison.Ordinal))
        {
            problem = $"the secret does not begin with {SecretPrefix}";
            return false;
        }

        Span<byte> key = stackalloc byte[MostSecretBytes];
        if (!Convert.TryFromBase64String(secret[SecretPrefix.Length..], key, out int length) || length < LeastSecretBytes)
        {
            problem = $"the secret behind {SecretPrefix} is not base64 of {LeastSecretBytes} to {MostSecretBytes} bytes";
            return false;
        }

        webhook = new StandardWebhook(key[..length].ToArray());
        return true;
    }

    /// <summary>The value of <c>webhook-signature</c>: <c>v1,</c> and base64 of HMAC-SHA256 over <c>id.timestamp.body</c>.</summary>
    /// <param name="id">The same on every try of a message; no full stop in it.</param>
    /// <param name="timestamp">The moment of this try; whole seconds count.</param>
    /// <param name="body">The bytes as sent.</param>
    public string Sign(string id, DateTimeOffset timestamp, ReadOnlySpan<byte> body)
    {
        using IncrementalHash hash = IncrementalHash.CreateHMAC(HashAlgorithmName.SHA256, _key);
        hash.AppendData(Encoding.UTF8.GetBytes($"{id}.{Seconds(timestamp)}."));
        hash.AppendData(body);
        return "v1," + Convert.ToBase64String(hash.GetHashAndReset());
    }

    /// <summary>The value of <c>webhook-timestamp</c>.</summary>
    public static string Seconds(DateTimeOffset timestamp) => timestamp.ToUnixTimeSeconds().ToString(CultureInfo.InvariantCulture);
}
