using System.Collections.Immutable;
using Station.Daemon.Configuration;

namespace Station.Daemon.Alerts;

/// <summary>One receiver, its secret read.</summary>
/// <param name="Types">Kinds of news it wants; empty means all.</param>
internal sealed record WebhookReceiver(string Name, Uri Url, StandardWebhook Signing, ImmutableArray<string> Types)
{
    public bool Wants(string type) => Types.IsEmpty || Types.Contains(type, StringComparer.Ordinal);

    /// <summary>Reads the secrets of all configured receivers.</summary>
    /// <exception cref="ConfigurationException">A secret is missing, open to everybody or malformed.</exception>
    public static ImmutableArray<WebhookReceiver> Load(AlertOptions options)
    {
        var problems = new List<string>();
        var receivers = ImmutableArray.CreateBuilder<WebhookReceiver>();
        foreach (WebhookOptions webhook in options.Webhooks)
        {
            string key = $"{AlertOptions.Section}.{nameof(AlertOptions.Webhooks)} '{webhook.Name}'";
            if (SecretText.Read(webhook.SecretFile, webhook.SecretEnvironment, key, problems) is not { } secret)
            {
                continue;
            }

            if (StandardWebhook.TryCreate(secret, out StandardWebhook? signing, out string? problem))
            {
                receivers.Add(new WebhookReceiver(webhook.Name, new Uri(webhook.Url), signing, [.. webhook.Types ?? []]));
            }
            else
            {
                problems.Add($"{key}: {problem}.");
            }
        }

        return problems.Count == 0 ? receivers.ToImmutable() : throw new ConfigurationException([.. problems]);
    }
}
