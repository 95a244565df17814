namespace Station.Daemon.Tests.Intake.SlowWriters;

/// <summary>A machine's two clocks: one that only goes on, and the one on the wall, which somebody sets as he likes.</summary>
internal sealed class CampaignClock : TimeProvider
{
    private TimeSpan _running;
    private DateTimeOffset _wall = new(2031, 3, 14, 9, 26, 53, TimeSpan.Zero);

    public override long TimestampFrequency => TimeSpan.TicksPerSecond;

    public void Advance(TimeSpan by)
    {
        _running += by;
        _wall += by;
    }

    public void SetWall(TimeSpan by) => _wall += by;

    public override long GetTimestamp() => _running.Ticks;

    public override DateTimeOffset GetUtcNow() => _wall;
}
