using System.Text;
using Station.Daemon.Alerts;
using Xunit;

namespace Station.Daemon.Tests.Alerts;

/// <summary>Standard Webhooks 1.0.0 (published specification, read in full: confirmed); the signatures were computed from it by another program.</summary>
public sealed class StandardWebhookTests
{
    private const string Secret = "whsec_AAECAwQFBgcICQoLDA0ODxAREhMUFRYX";
    private const string SecondSecret = "whsec_ICEiIyQlJicoKSorLC0uLzAxMjM0NTY3";
    private const string Id = "msg_00000000000000000000000001";
    private const string Body = "{\"type\":\"side.clipped\",\"timestamp\":\"2023-11-14T22:13:20Z\",\"data\":{\"id\":\"side-0001\"}}";
    private const string Signature = "v1,NujC8pTUiEFJCUd5bqIV14OC79d/wH2M8FTsHXfEmNQ=";
    private const string SecondSignature = "v1,TRo1T47MnMgr3u8LTftYMlhIDtjXd9pv01d6TIlgM64=";

    private static readonly DateTimeOffset Timestamp = DateTimeOffset.FromUnixTimeSeconds(1_700_000_000);

    [Fact]
    public void The_computed_vector_is_met() => Assert.Equal(Signature, Sign(Secret, Id, Timestamp, Body));

    [Fact]
    public void The_vector_of_a_second_key_is_met() => Assert.Equal(SecondSignature, Sign(SecondSecret, Id, Timestamp, Body));

    [Fact]
    public void An_altered_message_has_another_signature()
    {
        Assert.NotEqual(Signature, Sign(Secret, Id, Timestamp, Body + " "));
        Assert.NotEqual(Signature, Sign(Secret, Id, Timestamp.AddSeconds(1), Body));
        Assert.NotEqual(Signature, Sign(Secret, Id[..^1] + "2", Timestamp, Body));
    }

    [Fact]
    public void The_timestamp_is_in_whole_seconds() => Assert.Equal("1700000000", StandardWebhook.Seconds(Timestamp.AddMilliseconds(999)));

    [Theory]
    [InlineData(23, false)]
    [InlineData(24, true)]
    [InlineData(64, true)]
    [InlineData(65, false)]
    public void A_secret_has_24_to_64_bytes(int bytes, bool accepted) =>
        Assert.Equal(accepted, StandardWebhook.TryCreate("whsec_" + Convert.ToBase64String(new byte[bytes]), out _, out _));

    [Theory]
    [InlineData("AAECAwQFBgcICQoLDA0ODxAREhMUFRYX")]
    [InlineData("whsec_not base64 at all, but long enough to be a secret")]
    [InlineData("whsec_")]
    [InlineData("")]
    public void A_malformed_secret_is_refused_without_repeating_it(string secret)
    {
        Assert.False(StandardWebhook.TryCreate(secret, out _, out string? problem));
        Assert.True(secret.Length < 7 || !problem.Contains(secret, StringComparison.Ordinal));
    }

    private static string Sign(string secret, string id, DateTimeOffset at, string body)
    {
        Assert.True(StandardWebhook.TryCreate(secret, out StandardWebhook? webhook, out string? problem), problem);
        return webhook.Sign(id, at, Encoding.UTF8.GetBytes(body));
    }
}
