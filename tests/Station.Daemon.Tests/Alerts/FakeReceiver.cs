using System.Net;

namespace Station.Daemon.Tests.Alerts;

/// <summary>What a receiver got in one try.</summary>
internal sealed record ReceivedMessage(Uri Url, string Id, string Timestamp, string Signature, string ContentType, byte[] Body);

/// <summary>Stands in for the network: remembers what was sent and answers what the test says.</summary>
internal sealed class FakeReceiver(Func<ReceivedMessage, CancellationToken, Task<HttpResponseMessage>> answer) : HttpMessageHandler
{
    public FakeReceiver(Func<ReceivedMessage, HttpResponseMessage> answer)
        : this((message, _) => Task.FromResult(answer(message)))
    {
    }

    public FakeReceiver(HttpStatusCode status)
        : this(_ => new HttpResponseMessage(status))
    {
    }

    public List<ReceivedMessage> Messages { get; } = [];

    protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
    {
        string Header(string name) => request.Headers.GetValues(name).Single();
        var message = new ReceivedMessage(
            request.RequestUri!, Header("webhook-id"), Header("webhook-timestamp"), Header("webhook-signature"), request.Content!.Headers.ContentType!.ToString(),
            await request.Content.ReadAsByteArrayAsync(cancellationToken));
        lock (Messages)
        {
            Messages.Add(message);
        }

        return await answer(message, cancellationToken);
    }
}
