namespace Station.Audio.Synthesis;

/// <summary>How loud the groove noise is at each point of the side.</summary>
internal sealed class GrooveLevel
{
    /// <summary>The band in which <see cref="SidePlan.GrooveNoiseDbfs"/> is meant, Hz.</summary>
    public const double LowHz = 200;
    public const double HighHz = 9000;

    // A full-scale sine has half the power of a full-scale constant (AES17 reference).
    private const double FullScaleSinePower = 0.5;

    private readonly SidePlan _plan;
    private readonly SideTimeline _timeline;
    private readonly double _wander1Phase, _wander2Phase, _turnPhase;

    public GrooveLevel(SidePlan plan, SideTimeline timeline, ReplayCurve curve)
    {
        _plan = plan;
        _timeline = timeline;
        var random = new SeededRandom(plan.Seed, RandomStream.GrooveLevel);
        _wander1Phase = random.Between(0, 2 * Math.PI);
        _wander2Phase = random.Between(0, 2 * Math.PI);
        _turnPhase = random.Between(0, 2 * Math.PI);

        // Uniform noise of ±1 has power 1/3, spread evenly up to half the rate.
        const double Step = 10;
        double sum = 0;
        for (double hz = LowHz + (Step / 2); hz < HighHz; hz += Step)
        {
            sum += curve.PowerAt(hz, plan.SampleRateHz) * Step;
        }

        double bandPowerOfUniformNoise = sum / 3 * 2 / plan.SampleRateHz;
        BandPower = FullScaleSinePower * Math.Pow(10, plan.GrooveNoiseDbfs / 10);
        double amplitude = Math.Sqrt(BandPower / bandPowerOfUniformNoise);
        double ratio = Math.Pow(10, plan.NoiseSideOverMidDb / 20);
        Mid = amplitude / Math.Sqrt(1 + (ratio * ratio));
        Side = Mid * ratio;
        Amplitude = amplitude;
    }

    /// <summary>Mean square of one channel's groove noise in the band, at the middle of the side.</summary>
    public double BandPower { get; }

    /// <summary>Gain of uniform noise of ±1 before the replay curve, for one channel together, in mid, and in side.</summary>
    public double Amplitude { get; }

    public double Mid { get; }

    public double Side { get; }

    /// <summary>Slow part of the level against the middle of the side, dB: drift and wander.</summary>
    public double SlowDb(long frame)
    {
        double seconds = (double)frame / _plan.SampleRateHz;
        double through = Math.Clamp((double)(frame - _timeline.NeedleDown) / Math.Max(1, _timeline.Lift - _timeline.NeedleDown), 0, 1);
        return (_plan.NoiseDriftDb * (through - 0.5))
            + (0.45 * Math.Sin((2 * Math.PI * seconds / 47) + _wander1Phase))
            + (0.25 * Math.Sin((2 * Math.PI * seconds / 13.7) + _wander2Phase));
    }

    /// <summary>Gain at one frame, drift, wander and the swing within the turn together.</summary>
    public double Gain(long frame)
    {
        double turn = 2 * Math.PI * ((frame - _timeline.ClosedGroove) / _timeline.TurnFrames);
        return Math.Pow(10, (SlowDb(frame) + (_plan.NoiseTurnSwingDb / 2 * Math.Sin(turn + _turnPhase))) / 20);
    }

    /// <summary>Mean square in the band to expect near a frame, the swing within the turn left out.</summary>
    public double BandPowerNear(long frame) => BandPower * Math.Pow(10, SlowDb(frame) / 10);
}
