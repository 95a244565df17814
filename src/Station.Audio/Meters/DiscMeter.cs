using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Brings together the meters that need the turn: run-out, ticks, drift of pitch.</summary>
internal sealed class DiscMeter
{
    private readonly RunOutMeter _runOut;
    private readonly TickMeter _ticks;
    private readonly PartialMeter _partials;

    /// <param name="sampleRateHz">Frames per second.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="lowRateHz">Samples per second of the low stream, 5 to 8 kHz.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public DiscMeter(int sampleRateHz, int channels, double lowRateHz, int expectedSteps)
    {
        _partials = new PartialMeter(lowRateHz);
        _ticks = new TickMeter(sampleRateHz, channels, expectedSteps);
        _runOut = new RunOutMeter(sampleRateHz, lowRateHz);
    }

    /// <summary>Adds a step.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    /// <param name="low">The same, mixed to one channel at the low rate.</param>
    public void Add(ReadOnlySpan<float> samples, ReadOnlySpan<float> low)
    {
        _ticks.Add(samples);
        _runOut.Add(low);
        _partials.Add(low);
    }

    /// <summary>Ends the pass.</summary>
    public DiscReading Finish(SideOutline outline, LevelEnvelope envelope)
    {
        TickReading ticks = _ticks.Finish();
        RevolutionReading? revolution = _runOut.Finish(outline, envelope);
        return new DiscReading
        {
            Ticks = ticks,
            TickRates = TickRates.Of(ticks, outline, envelope),
            Revolution = revolution,
            Sway = revolution is null ? null : SwayFinder.Find(_partials.Tracks, _partials.PerSecond, revolution.PeriodSeconds),
            Scratches = ScratchFinder.Find(Played(ticks.Ticks, outline), ticks.Faint, PlayedFrames(outline), envelope.SampleRateHz, revolution?.PeriodSeconds),
        };
    }

    // Up to the run-out: in a closed groove everything comes back once per turn.
    private static long PlayedFrames(SideOutline outline) => outline.Music.IsDefaultOrEmpty ? 0 : (long)outline.Music[^1].EndStep * outline.StepFrames;

    private static ImmutableArray<Tick> Played(ImmutableArray<Tick> ticks, SideOutline outline)
    {
        long end = PlayedFrames(outline);
        return [.. ticks.TakeWhile(tick => tick.Frame < end)];
    }
}
