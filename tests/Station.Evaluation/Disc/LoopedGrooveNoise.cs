using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Model B.</summary>
public sealed class LoopedGrooveNoise(StereoSignal texture) : GrooveNoise
{
    private readonly ShapedGrooveNoise _ticks = new();

    /// <inheritdoc/>
    public override void Hiss(StereoSignal noise, StereoSignal music, double turnFrames, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(noise);
        Scatter(noise, texture, 0.8, 1.9, 0.1, 0.05, random);
        Section.RunBoth(noise, () => Section.HighPass(35, 0.7, noise.SampleRateHz));
    }

    /// <inheritdoc/>
    public override IEnumerable<double> TickTimes(double seconds, double perMinute, double turnSeconds, SeededRandom random) =>
        _ticks.TickTimes(seconds, perMinute, turnSeconds, random);

    /// <inheritdoc/>
    public override void Tick(StereoSignal groove, int frame, double leftPeak, double rightPeak, SeededRandom random) =>
        _ticks.Tick(groove, frame, leftPeak, rightPeak, random);
}
