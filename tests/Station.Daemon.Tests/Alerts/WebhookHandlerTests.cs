using System.Net;
using System.Net.Sockets;
using System.Text;
using Microsoft.Extensions.Time.Testing;
using Station.Daemon.Alerts;
using Xunit;

namespace Station.Daemon.Tests.Alerts;

/// <summary>The real connection, to a listener of the test's own.</summary>
public sealed class WebhookHandlerTests : IDisposable
{
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly FakeTimeProvider _clock = new(new DateTimeOffset(2031, 10, 3, 12, 4, 0, TimeSpan.Zero));

    public WebhookHandlerTests() => _listener.Start();

    public void Dispose() => _listener.Dispose();

    [Fact]
    public async Task A_signed_message_goes_over_the_wire_as_it_was_signed()
    {
        byte[] body = "{\"type\":\"take.retake\"}"u8.ToArray();
        WebhookReceiver receiver = Receiver();
        Task<string> request = AnswerAsync("HTTP/1.1 204 No Content\r\nContent-Length: 0\r\n\r\n");
        using var client = new WebhookClient(WebhookHandler.Create(), _clock);

        WebhookAnswer answer = await client.SendAsync(receiver, "msg_1", body, CancellationToken.None);

        Assert.IsType<WebhookAnswer.Taken>(answer);
        string sent = await request;
        Assert.StartsWith("POST /hook HTTP/1.1\r\n", sent, StringComparison.Ordinal);
        Assert.Contains("webhook-id: msg_1\r\n", sent, StringComparison.Ordinal);
        Assert.Contains($"webhook-signature: {receiver.Signing.Sign("msg_1", _clock.GetUtcNow(), body)}\r\n", sent, StringComparison.Ordinal);
        Assert.EndsWith("\r\n\r\n{\"type\":\"take.retake\"}", sent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_redirect_is_not_followed()
    {
        Task<string> request = AnswerAsync($"HTTP/1.1 307 Temporary Redirect\r\nLocation: http://127.0.0.1:{Port}/elsewhere\r\nContent-Length: 0\r\n\r\n");
        using var client = new WebhookClient(WebhookHandler.Create(), _clock);

        WebhookAnswer answer = await client.SendAsync(Receiver(), "msg_1", [], CancellationToken.None);

        Assert.Contains("answered 307", Assert.IsType<WebhookAnswer.Failed>(answer).Reason, StringComparison.Ordinal);
        await request;
        Assert.False(_listener.Pending());
    }

    [Fact]
    public async Task An_endless_answer_is_not_read_to_its_end()
    {
        Task<string> request = AnswerAsync("HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n", endless: true);
        using var client = new WebhookClient(WebhookHandler.Create(), _clock);

        Assert.IsType<WebhookAnswer.Taken>(await client.SendAsync(Receiver(), "msg_1", [], CancellationToken.None));

        await request;
    }

    [Fact]
    public async Task An_endless_header_is_a_failure()
    {
        Task<string> request = AnswerAsync("HTTP/1.1 200 OK\r\nX-Big: " + new string('x', 40_000) + "\r\n\r\n");
        using var client = new WebhookClient(WebhookHandler.Create(), _clock);

        Assert.IsType<WebhookAnswer.Failed>(await client.SendAsync(Receiver(), "msg_1", [], CancellationToken.None));

        await request;
    }

    [Fact]
    public async Task Nobody_listening_is_a_failure_with_a_reason()
    {
        WebhookReceiver receiver = Receiver();
        _listener.Stop();
        using var client = new WebhookClient(WebhookHandler.Create(), _clock);

        WebhookAnswer answer = await client.SendAsync(receiver, "msg_1", [], CancellationToken.None);

        Assert.NotEmpty(Assert.IsType<WebhookAnswer.Failed>(answer).Reason);
    }

    private int Port => ((IPEndPoint)_listener.LocalEndpoint).Port;

    private WebhookReceiver Receiver()
    {
        Assert.True(StandardWebhook.TryCreate("whsec_AAECAwQFBgcICQoLDA0ODxAREhMUFRYX", out StandardWebhook? signing, out _));
        return new WebhookReceiver("house", new Uri($"http://127.0.0.1:{Port}/hook"), signing, []);
    }

    /// <summary>Takes one connection, reads one request and answers; returns the request.</summary>
    private async Task<string> AnswerAsync(string answer, bool endless = false)
    {
        using TcpClient connection = await _listener.AcceptTcpClientAsync();
        await using NetworkStream stream = connection.GetStream();
        byte[] buffer = new byte[64 * 1024];
        var request = new StringBuilder();
        do
        {
            request.Append(Encoding.UTF8.GetString(buffer, 0, await stream.ReadAsync(buffer)));
        }
        while (!IsWhole(request.ToString()));

        try
        {
            await stream.WriteAsync(Encoding.ASCII.GetBytes(answer));
            byte[] chunk = Encoding.ASCII.GetBytes($"1000\r\n{new string('x', 0x1000)}\r\n");
            while (endless)
            {
                await stream.WriteAsync(chunk);
            }
        }
        catch (IOException)
        {
            // The client has hung up, as it should.
        }

        return request.ToString();
    }

    private static bool IsWhole(string request)
    {
        int end = request.IndexOf("\r\n\r\n", StringComparison.Ordinal);
        const string Length = "Content-Length: ";
        int length = request.IndexOf(Length, StringComparison.Ordinal);
        return end >= 0 && request.Length - end - 4 >= int.Parse(request.AsSpan(length + Length.Length, request.IndexOf('\r', length) - length - Length.Length));
    }
}
