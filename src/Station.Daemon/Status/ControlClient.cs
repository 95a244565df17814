using System.Net;
using System.Net.Http.Json;
using System.Net.Sockets;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Station.Daemon.Jobs;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status;

/// <summary>Speaks to the running service through its control socket, for commands on the same machine.</summary>
/// <param name="socketPath">The socket's file.</param>
internal sealed class ControlClient(string socketPath) : IDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(30);

    private readonly HttpClient _http = new(new SocketsHttpHandler { UseProxy = false, UseCookies = false, AllowAutoRedirect = false, ConnectCallback = (_, ct) => ConnectAsync(socketPath, ct) })
    {
        BaseAddress = new Uri("http://localhost/"),
        Timeout = Patience,
    };

    /// <summary>True when a service answers on the socket.</summary>
    public async Task<bool> IsServiceRunningAsync(CancellationToken cancellationToken)
    {
        if (!File.Exists(socketPath))
        {
            return false;
        }

        try
        {
            using HttpResponseMessage response = await _http.GetAsync("health/live", cancellationToken);
            return response.IsSuccessStatusCode;
        }
        catch (HttpRequestException)
        {
            // A socket file without a listener: its process was killed.
            return false;
        }
    }

    /// <param name="why">Kept with the take; not empty.</param>
    public Task<ControlAnswer> AcceptAsync(string idOrLabel, string why, CancellationToken cancellationToken) =>
        DecideAsync(idOrLabel, "accept", new DecisionRequest(why), cancellationToken);

    public Task<ControlAnswer> DiscardAsync(string idOrLabel, string? why, CancellationToken cancellationToken) =>
        DecideAsync(idOrLabel, "discard", new DecisionRequest(why), cancellationToken);

    public Task<ControlAnswer> RetryAsync(string idOrLabel, CancellationToken cancellationToken) =>
        DecideAsync(idOrLabel, "retry", new DecisionRequest(), cancellationToken);

    /// <param name="target">What the capture is to be filed as, such as <c>HL-0032-B</c>.</param>
    public Task<ControlAnswer> IdentifyAsync(string idOrLabel, string target, CancellationToken cancellationToken) =>
        DecideAsync(idOrLabel, "identify", new IdentifyRequest(target), cancellationToken, job => PageText.Identified(job.Capture, $"{job.Record}-{job.Sides}"));

    /// <param name="cue">A cue sheet's text.</param>
    /// <param name="tracks">How many tracks it has.</param>
    public Task<ControlAnswer> FixCutsAsync(string record, string side, string cue, int tracks, CancellationToken cancellationToken) => SendAsync(
        () => _http.PostAsync(Division(record, side), new StringContent(cue, Encoding.UTF8, "text/plain"), cancellationToken),
        job => PageText.CutsSaid(job.Capture, tracks, job.State), cancellationToken);

    /// <summary>Takes a person's cuts back.</summary>
    public Task<ControlAnswer> ReleaseCutsAsync(string record, string side, CancellationToken cancellationToken) => SendAsync(
        () => _http.DeleteAsync(Division(record, side), cancellationToken), job => PageText.CutsSaid(job.Capture, tracks: null, job.State), cancellationToken);

    public void Dispose() => _http.Dispose();

    private static Uri Division(string record, string side) =>
        new($"api/v1/records/{Uri.EscapeDataString(record)}/sides/{Uri.EscapeDataString(side)}/division", UriKind.Relative);

    private Task<ControlAnswer> DecideAsync<TRequest>(
        string idOrLabel, string decision, TRequest request, CancellationToken cancellationToken, Func<JobView, string>? say = null) => SendAsync(
        () => _http.PostAsJsonAsync($"api/v1/jobs/{Uri.EscapeDataString(idOrLabel)}/{decision}", request, ApiJson.Options, cancellationToken),
        say ?? (job => PageText.Decided(job.Capture, job.State)), cancellationToken);

    private async Task<ControlAnswer> SendAsync(Func<Task<HttpResponseMessage>> send, Func<JobView, string> say, CancellationToken cancellationToken)
    {
        try
        {
            using HttpResponseMessage response = await send();
            string body = await response.Content.ReadAsStringAsync(cancellationToken);
            if (!response.IsSuccessStatusCode)
            {
                return new ControlAnswer(false, ProblemText(body) ?? $"The service answered {(int)response.StatusCode}.")
                {
                    IsInputAtFault = response.StatusCode == HttpStatusCode.BadRequest,
                };
            }

            JobView job = JsonSerializer.Deserialize<JobView>(body, ApiJson.Options) ?? throw new JsonException("The service answered null.");
            return new ControlAnswer(true, say(job), job);
        }
        catch (Exception error) when (error is HttpRequestException or JsonException || (error is OperationCanceledException && !cancellationToken.IsCancellationRequested))
        {
            return new ControlAnswer(false, $"The service on {socketPath} does not answer as expected: {error.Message}");
        }
    }

    private static string? ProblemText(string body)
    {
        try
        {
            JsonNode? problem = JsonNode.Parse(body);
            return (string?)problem?["detail"] ?? (string?)problem?["title"];
        }
        catch (Exception error) when (error is JsonException or InvalidOperationException)
        {
            return null;
        }
    }

    private static async ValueTask<Stream> ConnectAsync(string path, CancellationToken cancellationToken)
    {
        var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        try
        {
            await socket.ConnectAsync(new UnixDomainSocketEndPoint(path), cancellationToken);
            return new NetworkStream(socket, ownsSocket: true);
        }
        catch
        {
            socket.Dispose();
            throw;
        }
    }
}
