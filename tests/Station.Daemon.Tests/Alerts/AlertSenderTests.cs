using System.Collections.Immutable;
using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Text.Json.Nodes;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using Station.Daemon.Alerts;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Alerts;

public sealed class AlertSenderTests : IDisposable
{
    private const string Secret = "whsec_AAECAwQFBgcICQoLDA0ODxAREhMUFRYX";

    private readonly SampleStation _station = new();

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task An_alert_arrives_signed_with_its_type_time_and_data()
    {
        await _station.AlertAsync("take.retake", "HL-0031 side B: play it again.", new JsonObject { ["record"] = "HL-0031" });
        DateTimeOffset created = (await AlertsAsync()).Single().CreatedAt;
        _station.Clock.Advance(TimeSpan.FromMinutes(2));
        var receiver = new FakeReceiver(HttpStatusCode.NoContent);

        await Sender(receiver, Receiver("house")).RunAsync(CancellationToken.None);

        ReceivedMessage message = Assert.Single(receiver.Messages);
        Assert.Equal("https://house.example/hook", message.Url.ToString());
        Assert.Equal("application/json", message.ContentType);
        Assert.Equal(_station.Clock.GetUtcNow().ToUnixTimeSeconds().ToString(CultureInfo.InvariantCulture), message.Timestamp);
        Assert.DoesNotContain('.', message.Id);
        Assert.Equal(Receiver("house").Signing.Sign(message.Id, _station.Clock.GetUtcNow(), message.Body), message.Signature);

        JsonObject body = JsonNode.Parse(message.Body)!.AsObject();
        Assert.Equal(["data", "timestamp", "type"], body.Select(p => p.Key).Order(StringComparer.Ordinal));
        Assert.Equal("take.retake", (string?)body["type"]);
        Assert.Equal(created, DateTimeOffset.Parse((string)body["timestamp"]!, CultureInfo.InvariantCulture));
        Assert.Equal("HL-0031 side B: play it again.", (string?)body["data"]!["subject"]);
        Assert.Equal("Lantern Street", (string?)body["data"]!["station"]);
        Assert.Equal("HL-0031", (string?)body["data"]!["record"]);
        Assert.Equal(AlertState.Delivered, (await AlertsAsync()).Single().State);
    }

    [Fact]
    public async Task A_taken_alert_is_not_sent_again()
    {
        await _station.AlertAsync("take.review", "HL-0031 side A: please decide.");
        var receiver = new FakeReceiver(HttpStatusCode.OK);
        AlertSender sender = Sender(receiver, Receiver("house"));

        await sender.RunAsync(CancellationToken.None);
        await sender.RunAsync(CancellationToken.None);
        await Sender(receiver, Receiver("house")).RunAsync(CancellationToken.None);

        Assert.Single(receiver.Messages);
    }

    [Fact]
    public async Task Without_a_receiver_an_alert_stands_in_the_log_once_and_counts_as_delivered()
    {
        await _station.AlertAsync("take.retake", "HL-0031 side B: play it again.\nSecond line");
        var log = new ListLog();
        AlertSender sender = Sender(new FakeReceiver(HttpStatusCode.OK), log);

        await sender.RunAsync(CancellationToken.None);
        await sender.RunAsync(CancellationToken.None);

        (LogLevel level, int id, string text) = Assert.Single(log.Lines);
        Assert.Equal(LogLevel.Warning, level);
        Assert.Equal(300, id);
        Assert.StartsWith("HL-0031 side B: play it again.", text, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', text);
        Assert.Equal(AlertState.Delivered, (await AlertsAsync()).Single().State);
    }

    // Standard Webhooks 1.0.0, retry table (confirmed): 0 s, 5 s, 5 min, 30 min, 2 h, 5 h, 10 h, 14 h, 20 h, 24 h after the try before.
    [Fact]
    public async Task A_receiver_that_is_down_is_tried_by_the_table_with_the_same_id_and_then_given_up()
    {
        await _station.AlertAsync("take.retake", "HL-0031 side B: play it again.");
        var times = new List<DateTimeOffset>();
        var receiver = new FakeReceiver(_ =>
        {
            times.Add(_station.Clock.GetUtcNow());
            return new HttpResponseMessage(HttpStatusCode.InternalServerError);
        });
        AlertSender sender = Sender(receiver, Receiver("house"));
        TimeSpan[] table =
        [
            TimeSpan.FromSeconds(5), TimeSpan.FromMinutes(5), TimeSpan.FromMinutes(30), TimeSpan.FromHours(2), TimeSpan.FromHours(5),
            TimeSpan.FromHours(10), TimeSpan.FromHours(14), TimeSpan.FromHours(20), TimeSpan.FromHours(24),
        ];

        await sender.RunAsync(CancellationToken.None);
        foreach (TimeSpan wait in table)
        {
            _station.Clock.Advance(wait - TimeSpan.FromMilliseconds(1));
            int before = times.Count;
            await sender.RunAsync(CancellationToken.None);
            Assert.Equal(before, times.Count);

            _station.Clock.Advance(wait * 0.2 + TimeSpan.FromMilliseconds(2));
            await sender.RunAsync(CancellationToken.None);
            Assert.Equal(before + 1, times.Count);
        }

        _station.Clock.Advance(TimeSpan.FromDays(3));
        await sender.RunAsync(CancellationToken.None);
        Assert.Equal(10, times.Count);
        Assert.Single(receiver.Messages.Select(m => m.Id).Distinct(StringComparer.Ordinal));
        Assert.Equal(10, receiver.Messages.Select(m => m.Timestamp).Distinct(StringComparer.Ordinal).Count());
        Assert.Single(receiver.Messages.Select(m => Convert.ToHexString(m.Body)).Distinct(StringComparer.Ordinal));
        Alert alert = (await AlertsAsync()).Single();
        Assert.Equal(AlertState.Abandoned, alert.State);
        Assert.Equal(10, alert.Attempt);
        Assert.Contains("answered 500", alert.LastError, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(HttpStatusCode.MovedPermanently)]
    [InlineData(HttpStatusCode.Found)]
    [InlineData(HttpStatusCode.TemporaryRedirect)]
    [InlineData(HttpStatusCode.NotFound)]
    [InlineData(HttpStatusCode.NotModified)]
    public async Task Anything_but_2xx_is_not_taken_and_no_redirect_is_followed(HttpStatusCode status)
    {
        await _station.AlertAsync("take.retake", "HL-0031 side B: play it again.");
        var receiver = new FakeReceiver(_ => new HttpResponseMessage(status) { Headers = { Location = new Uri("https://elsewhere.example/") } });

        await Sender(receiver, Receiver("house")).RunAsync(CancellationToken.None);

        Assert.Equal("house.example", Assert.Single(receiver.Messages).Url.Host);
        Assert.Equal(AlertState.Pending, (await AlertsAsync()).Single().State);
        AlertDelivery delivery = (await DeliveriesAsync()).Single();
        Assert.Equal(AlertState.Pending, delivery.State);
        Assert.Equal(1, delivery.Attempt);
    }

    [Fact]
    public void The_connection_itself_follows_no_redirect_and_uses_no_proxy()
    {
        using SocketsHttpHandler handler = WebhookHandler.Create();

        Assert.False(handler.AllowAutoRedirect);
        Assert.False(handler.UseProxy);
        Assert.False(handler.UseCookies);
    }

    [Fact]
    public async Task A_receiver_that_wants_nothing_more_gets_nothing_more()
    {
        await _station.AlertAsync("take.retake", "One");
        await _station.AlertAsync("take.retake", "Two");
        var receiver = new FakeReceiver(HttpStatusCode.Gone);
        AlertSender sender = Sender(receiver, Receiver("house"));

        await sender.RunAsync(CancellationToken.None);
        await _station.AlertAsync("take.retake", "Three");
        await sender.RunAsync(CancellationToken.None);

        Assert.Single(receiver.Messages);
        Assert.All(await AlertsAsync(), a => Assert.Equal(AlertState.Abandoned, a.State));
    }

    [Theory]
    [InlineData(120, false)]
    [InlineData(120, true)]
    public async Task The_wait_a_receiver_asks_for_is_kept(int seconds, bool asDate)
    {
        await _station.AlertAsync("take.retake", "One");
        await _station.AlertAsync("take.retake", "Two");
        bool busy = true;
        var receiver = new FakeReceiver(_ =>
        {
            var response = new HttpResponseMessage(busy ? HttpStatusCode.TooManyRequests : HttpStatusCode.OK);
            response.Headers.RetryAfter = asDate
                ? new RetryConditionHeaderValue(_station.Clock.GetUtcNow().AddSeconds(seconds))
                : new RetryConditionHeaderValue(TimeSpan.FromSeconds(seconds));
            return response;
        });
        AlertSender sender = Sender(receiver, Receiver("house"));

        await sender.RunAsync(CancellationToken.None);
        busy = false;
        _station.Clock.Advance(TimeSpan.FromSeconds(seconds - 2));
        await sender.RunAsync(CancellationToken.None);
        Assert.Single(receiver.Messages);

        _station.Clock.Advance(TimeSpan.FromSeconds(3));
        await sender.RunAsync(CancellationToken.None);
        Assert.Equal(3, receiver.Messages.Count);
        Assert.All(await AlertsAsync(), a => Assert.Equal(AlertState.Delivered, a.State));
    }

    [Fact]
    public async Task A_receiver_that_never_answers_is_left_after_15_seconds()
    {
        await _station.AlertAsync("take.retake", "HL-0031 side B: play it again.");
        var asked = new TaskCompletionSource();
        var receiver = new FakeReceiver(async (_, cancellationToken) =>
        {
            asked.SetResult();
            await Task.Delay(Timeout.InfiniteTimeSpan, TimeProvider.System, cancellationToken);
            throw new InvalidOperationException("Never reached.");
        });

        Task round = Sender(receiver, Receiver("house")).RunAsync(CancellationToken.None);
        await asked.Task;
        Assert.False(round.IsCompleted);
        _station.Clock.Advance(TimeSpan.FromSeconds(15));
        await round;

        Assert.Contains("no answer within 15 s", (await DeliveriesAsync()).Single().LastError, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_stop_in_the_middle_of_a_try_leaves_the_alert_to_be_sent()
    {
        await _station.AlertAsync("take.retake", "HL-0031 side B: play it again.");
        using var stop = new CancellationTokenSource();
        var receiver = new FakeReceiver(async (_, cancellationToken) =>
        {
            await stop.CancelAsync();
            cancellationToken.ThrowIfCancellationRequested();
            return new HttpResponseMessage(HttpStatusCode.OK);
        });
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => Sender(receiver, Receiver("house")).RunAsync(stop.Token));

        var next = new FakeReceiver(HttpStatusCode.OK);
        await Sender(next, Receiver("house")).RunAsync(CancellationToken.None);

        Assert.Equal(receiver.Messages.Single().Id, next.Messages.Single().Id);
        Assert.Equal(2, (await DeliveriesAsync()).Single().Attempt);
    }

    [Fact]
    public async Task Receivers_get_only_the_kinds_they_want_and_each_is_tried_until_it_took_its_own()
    {
        await _station.AlertAsync("take.retake", "Retake");
        await _station.AlertAsync("take.review", "Review");
        bool down = true;
        var receiver = new FakeReceiver(m => new HttpResponseMessage(m.Url.Host == "lamp.example" && down ? HttpStatusCode.ServiceUnavailable : HttpStatusCode.OK));
        AlertSender sender = Sender(receiver, Receiver("house"), Receiver("lamp", "take.retake"));

        await sender.RunAsync(CancellationToken.None);
        Assert.Equal(2, receiver.Messages.Count(m => m.Url.Host == "house.example"));
        Assert.Equal(1, receiver.Messages.Count(m => m.Url.Host == "lamp.example"));
        Assert.Equal([AlertState.Delivered, AlertState.Pending], (await AlertsAsync()).Select(a => a.State));

        down = false;
        _station.Clock.Advance(TimeSpan.FromSeconds(7));
        await sender.RunAsync(CancellationToken.None);
        Assert.Equal(2, receiver.Messages.Count(m => m.Url.Host == "house.example"));
        Assert.All(await AlertsAsync(), a => Assert.Equal(AlertState.Delivered, a.State));
    }

    [Fact]
    public async Task One_dead_receiver_holds_up_nobody_and_costs_one_try_a_round()
    {
        for (int i = 0; i < 5; i++)
        {
            await _station.AlertAsync("take.retake", "News");
        }

        var receiver = new FakeReceiver(m => m.Url.Host == "lamp.example" ? throw new HttpRequestException("Connection refused") : new HttpResponseMessage(HttpStatusCode.OK));

        await Sender(receiver, Receiver("lamp"), Receiver("house")).RunAsync(CancellationToken.None);

        Assert.Equal(5, receiver.Messages.Count(m => m.Url.Host == "house.example"));
        Assert.Equal(1, receiver.Messages.Count(m => m.Url.Host == "lamp.example"));
    }

    [Fact]
    public async Task What_was_open_for_a_receiver_that_left_the_configuration_is_given_up()
    {
        await _station.AlertAsync("take.retake", "News");
        await Sender(new FakeReceiver(HttpStatusCode.ServiceUnavailable), Receiver("lamp")).RunAsync(CancellationToken.None);

        await Sender(new FakeReceiver(HttpStatusCode.OK), Receiver("house")).RunAsync(CancellationToken.None);

        Alert alert = (await AlertsAsync()).Single();
        Assert.Equal(AlertState.Abandoned, alert.State);
        Assert.Contains("no longer configured", alert.LastError, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_long_message_leaves_the_findings_out()
    {
        var findings = new JsonArray([.. Enumerable.Range(0, 200).Select(_ => (JsonNode)new JsonObject { ["message"] = new string('x', 200) })]);
        await _station.AlertAsync("take.retake", "News", new JsonObject { ["record"] = "HL-0031", ["findings"] = findings });

        byte[] body = AlertMessage.Body((await AlertsAsync()).Single(), "station");

        Assert.InRange(body.Length, 1, AlertMessage.MaxBytes);
        Assert.True((bool?)JsonNode.Parse(body)!["data"]!["shortened"]);
        Assert.Equal("HL-0031", (string?)JsonNode.Parse(body)!["data"]!["record"]);
    }

    private Task<ImmutableArray<Alert>> AlertsAsync() => _station.Store.AlertsAsync(beforeId: null, 50, CancellationToken.None);

    private async Task<ImmutableArray<AlertDelivery>> DeliveriesAsync() =>
        await _station.Store.DeliveriesAsync([.. (await AlertsAsync()).Select(a => a.Id)], CancellationToken.None);

    private static WebhookReceiver Receiver(string name, params string[] types)
    {
        Assert.True(StandardWebhook.TryCreate(Secret, out StandardWebhook? signing, out _));
        return new WebhookReceiver(name, new Uri($"https://{name}.example/hook"), signing, [.. types]);
    }

    private AlertSender Sender(FakeReceiver network, params WebhookReceiver[] receivers) => Sender(network, NullLogger<AlertSender>.Instance, receivers);

    private AlertSender Sender(FakeReceiver network, ILogger<AlertSender> log, params WebhookReceiver[] receivers) =>
        new([.. receivers], _station.Store, new WebhookClient(network, _station.Clock), _station.Options, _station.Clock, log);

    private sealed class ListLog : ILogger<AlertSender>
    {
        public List<(LogLevel Level, int Id, string Text)> Lines { get; } = [];

        public IDisposable? BeginScope<TState>(TState state)
            where TState : notnull => null;

        public bool IsEnabled(LogLevel logLevel) => true;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) =>
            Lines.Add((logLevel, eventId.Id, formatter(state, exception)));
    }
}
