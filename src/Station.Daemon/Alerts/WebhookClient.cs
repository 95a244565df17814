using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Alerts;

/// <summary>Makes one try to hand one message to one receiver. Trying again is somebody else's decision.</summary>
internal sealed class WebhookClient : IDisposable
{
    /// <summary>Standard Webhooks 1.0.0, "Request timeout": 15 to 30 s.</summary>
    public static readonly TimeSpan Timeout = TimeSpan.FromSeconds(15);

    /// <summary>What is read of an answer, so that its connection can be used again; nothing in it matters (own choice).</summary>
    private const int MaxAnswerBytes = 64 * 1024;

    private readonly HttpClient _http;
    private readonly TimeProvider _clock;

    /// <param name="handler">Owned from here on. Must not follow redirects.</param>
    public WebhookClient(HttpMessageHandler handler, TimeProvider clock)
    {
        _http = new HttpClient(handler) { Timeout = System.Threading.Timeout.InfiniteTimeSpan };
        _http.DefaultRequestHeaders.UserAgent.Add(new ProductInfoHeaderValue("StationDaemon", productVersion: null));
        _clock = clock;
    }

    public async Task<WebhookAnswer> SendAsync(WebhookReceiver receiver, string id, byte[] body, CancellationToken cancellationToken)
    {
        using var timeout = new CancellationTokenSource(Timeout, _clock);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(timeout.Token, cancellationToken);
        try
        {
            using HttpRequestMessage request = Request(receiver, id, body);
            using HttpResponseMessage response = await _http.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, either.Token);
            WebhookAnswer answer = Judge(response);
            if (answer is WebhookAnswer.Taken)
            {
                await DrainAsync(response, either.Token);
            }

            return answer;
        }
        catch (OperationCanceledException) when (!cancellationToken.IsCancellationRequested)
        {
            return new WebhookAnswer.Failed(string.Create(CultureInfo.InvariantCulture, $"no answer within {Timeout.TotalSeconds:0} s"));
        }
        catch (Exception error) when (error is HttpRequestException or IOException)
        {
            return new WebhookAnswer.Failed(VisibleText.Of((error.InnerException ?? error).Message, 200));
        }
    }

    public void Dispose() => _http.Dispose();

    private HttpRequestMessage Request(WebhookReceiver receiver, string id, byte[] body)
    {
        DateTimeOffset now = _clock.GetUtcNow();
        var content = new ByteArrayContent(body);
        content.Headers.ContentType = new MediaTypeHeaderValue("application/json");
        var request = new HttpRequestMessage(HttpMethod.Post, receiver.Url) { Content = content };
        request.Headers.Add(StandardWebhook.IdHeader, id);
        request.Headers.Add(StandardWebhook.TimestampHeader, StandardWebhook.Seconds(now));
        request.Headers.Add(StandardWebhook.SignatureHeader, receiver.Signing.Sign(id, now, body));
        return request;
    }

    private WebhookAnswer Judge(HttpResponseMessage response)
    {
        int status = (int)response.StatusCode;
        if (status is >= 200 and < 300)
        {
            return new WebhookAnswer.Taken();
        }

        if (response.StatusCode == HttpStatusCode.Gone)
        {
            return new WebhookAnswer.Gone();
        }

        // The receiver's own words are not repeated: only the number is.
        string reason = string.Create(CultureInfo.InvariantCulture, $"answered {status}");
        bool slowDown = response.StatusCode is HttpStatusCode.TooManyRequests or HttpStatusCode.BadGateway or HttpStatusCode.GatewayTimeout;
        return new WebhookAnswer.Failed(status is >= 300 and < 400 ? reason + ", a redirect, which is not followed" : reason, slowDown, RetryAfter(response));
    }

    private TimeSpan? RetryAfter(HttpResponseMessage response)
    {
        TimeSpan? wait = response.Headers.RetryAfter switch
        {
            { Delta: { } delta } => delta,
            { Date: { } date } => date - _clock.GetUtcNow(),
            _ => null,
        };
        return wait is { } asked && asked > TimeSpan.Zero ? asked : null;
    }

    private static async Task DrainAsync(HttpResponseMessage response, CancellationToken cancellationToken)
    {
        try
        {
            using Stream answer = await response.Content.ReadAsStreamAsync(cancellationToken);
            byte[] buffer = new byte[8192];
            int read;
            for (int total = 0; total < MaxAnswerBytes; total += read)
            {
                read = await answer.ReadAsync(buffer, cancellationToken);
                if (read == 0)
                {
                    return;
                }
            }
        }
        catch (Exception error) when (error is HttpRequestException or IOException)
        {
            // The status line has said it: taken. A broken tail only costs the connection.
        }
    }
}
