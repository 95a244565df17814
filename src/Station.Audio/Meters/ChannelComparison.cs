namespace Station.Audio.Meters;

/// <summary>Compares the channels in the loud half of the music, in the bare groove and in the bass.</summary>
/// <remarks>The loud half: music's bass and middle stand clear of rumble, noise and hum there, whose phase says nothing of the wiring.</remarks>
internal sealed class ChannelComparison
{
    private const int PartCount = 8;

    // Bass quieter than this under the loudest twentieth doesn't count in a part: rumble and hum would speak for it.
    private const double LeastBassShare = 0.003;             // −25 dB
    private const int LeastPartBlocks = 5;                   // one second

    private readonly LevelEnvelope _envelope;
    private readonly SideOutline _outline;
    private readonly ChannelBlocks _blocks;

    private ChannelComparison(LevelEnvelope envelope, SideOutline outline, ChannelBlocks blocks)
    {
        _envelope = envelope;
        _outline = outline;
        _blocks = blocks;
    }

    /// <summary>Makes the reading.</summary>
    /// <param name="envelope">Two channels.</param>
    /// <param name="outline">Where music and bare groove lie.</param>
    /// <param name="bass">The bass of both.</param>
    /// <param name="bandCross">Mean product of the channels in the groove band, each step.</param>
    /// <param name="identical">Equal words throughout.</param>
    public static WiringReading Of(LevelEnvelope envelope, SideOutline outline, BassPair bass, ReadOnlySpan<float> bandCross, bool identical)
    {
        ChannelBlocks blocks = new(envelope);
        ChannelComparison comparison = new(envelope, outline, blocks);
        Sums music = comparison.Music(bandCross);
        (Sums deep, double[] parts) = Bass(bass.Deep);
        (Sums upper, _) = Bass(bass.Upper);
        (Sums noise, int noiseSteps) = comparison.Noise(bandCross);
        double sign = music.Cross < 0 ? -1 : 1;
        return new WiringReading
        {
            Identical = identical,
            MusicDifferenceDb = music.DifferenceDb,
            NoiseDifferenceDb = noise.DifferenceDb,
            NoiseSeconds = (double)noiseSteps * envelope.StepFrames / envelope.SampleRateHz,
            SubsonicDifferenceDb = comparison.Subsonic(),
            BassDifferenceDb = deep.DifferenceDb,
            DeepBassCorrelation = deep.Correlation,
            DeepBassParts = [.. parts],
            UpperBassCorrelation = upper.Correlation,
            BandCorrelation = music.Correlation,
            ResidualDb = Ratio(music.Left + music.Right - (2 * sign * music.Cross), music.Left + music.Right + (2 * sign * music.Cross)),
            SumGainDb = SumGain(music, noise, sign),
            Dead = DeadStretches.Of(envelope, outline, blocks),
        };
    }

    private static double? Ratio(double a, double b) => a > 0 && b > 0 ? 10 * Math.Log10(a / b) : null;

    // The same signal in both, with gains as in the music, and noise as in the groove: signal to noise of the sum over the better of the two.
    private static double? SumGain(Sums music, Sums noise, double sign)
    {
        if (noise.Left <= 0 || noise.Right <= 0 || music.Left <= 0 || music.Right <= 0)
        {
            return null;
        }

        double amplitude = Math.Sqrt(music.Left) + Math.Sqrt(music.Right);
        double sum = noise.Left + noise.Right + (2 * sign * noise.Cross);
        return Ratio(amplitude * amplitude / sum, Math.Max(music.Left / noise.Left, music.Right / noise.Right));
    }

    private Sums Music(ReadOnlySpan<float> bandCross)
    {
        List<(float Power, int Block)> loud = [];
        for (int block = 0; block < _blocks.Count; block++)
        {
            int middle = (block * ChannelBlocks.Steps) + (ChannelBlocks.Steps / 2);
            if (_outline.Music.Any(span => span.FirstStep <= middle && middle < span.EndStep))
            {
                loud.Add((Math.Max(_blocks.Power(0)[block], _blocks.Power(1)[block]), block));
            }
        }

        loud.Sort();
        Sums sums = default;
        ReadOnlySpan<float> left = _envelope.BandPower(0);
        ReadOnlySpan<float> right = _envelope.BandPower(1);
        foreach ((_, int block) in loud.Skip(loud.Count / 2))
        {
            for (int step = block * ChannelBlocks.Steps; step < (block + 1) * ChannelBlocks.Steps; step++)
            {
                sums.Add(left[step], right[step], bandCross[step]);
            }
        }

        return sums;
    }

    private (Sums Sums, int Steps) Noise(ReadOnlySpan<float> bandCross)
    {
        List<float> left = [];
        List<float> right = [];
        List<float> correlation = [];
        foreach (GrooveSpan span in _outline.Groove)
        {
            ReadOnlySpan<float> l = _envelope.BandPower(0)[span.FirstStep..span.EndStep];
            ReadOnlySpan<float> r = _envelope.BandPower(1)[span.FirstStep..span.EndStep];
            left.AddRange(l);
            right.AddRange(r);
            for (int i = 0; i < l.Length; i++)
            {
                double scale = Math.Sqrt((double)l[i] * r[i]);
                correlation.Add(scale > 0 ? (float)(bandCross[span.FirstStep + i] / scale) : 0);
            }
        }

        double middleLeft = ChannelBlocks.Quantile([.. left], 0.5);
        double middleRight = ChannelBlocks.Quantile([.. right], 0.5);
        Sums sums = default;
        sums.Add(middleLeft, middleRight, Math.Sqrt(middleLeft * middleRight) * ChannelBlocks.Quantile([.. correlation], 0.5));
        return (sums, left.Count);
    }

    private double? Subsonic()
    {
        if (!_envelope.HasSubsonics)
        {
            return null;
        }

        int first = _outline.NeedleDownStep ?? 0;
        int end = _outline.NeedleUpStep ?? _envelope.Steps;
        List<float> ratios = [];
        for (int step = first; step + StepLength.StepsPerSecond <= end; step += StepLength.StepsPerSecond)
        {
            double left = Sum(_envelope.SubsonicPower(0).Slice(step, StepLength.StepsPerSecond));
            double right = Sum(_envelope.SubsonicPower(1).Slice(step, StepLength.StepsPerSecond));
            if (left > 0 && right > 0)
            {
                ratios.Add((float)(10 * Math.Log10(left / right)));
            }
        }

        return ratios.Count == 0 ? null : ChannelBlocks.Quantile([.. ratios], 0.5);
    }

    private static double Sum(ReadOnlySpan<float> values)
    {
        double sum = 0;
        foreach (float value in values)
        {
            sum += value;
        }

        return sum;
    }

    private static (Sums Sums, double[] Parts) Bass(BassBand bass)
    {
        int count = bass.Left.Length;
        float[] power = new float[count];
        for (int i = 0; i < count; i++)
        {
            power[i] = bass.Left[i] + bass.Right[i];
        }

        float loud = ChannelBlocks.Quantile(power, 0.5);
        double least = LeastBassShare * ChannelBlocks.Quantile(power, 0.95);
        Sums sums = default;
        List<double> parts = [];
        for (int part = 0; part < PartCount; part++)
        {
            int from = count * part / PartCount;
            int to = count * (part + 1) / PartCount;
            float partLoud = ChannelBlocks.Quantile(power.AsSpan(from, to - from), 0.5);
            Sums inPart = default;
            int blocks = 0;
            for (int i = from; i < to; i++)
            {
                if (power[i] > 0 && power[i] >= loud)
                {
                    sums.Add(bass.Left[i], bass.Right[i], bass.Cross[i]);
                }

                if (power[i] > 0 && power[i] >= partLoud && power[i] >= least)
                {
                    inPart.Add(bass.Left[i], bass.Right[i], bass.Cross[i]);
                    blocks++;
                }
            }

            if (blocks >= LeastPartBlocks && inPart.Correlation is double correlation)
            {
                parts.Add(correlation);
            }
        }

        return (sums, [.. parts]);
    }

    private struct Sums
    {
        public double Left;
        public double Right;
        public double Cross;

        public readonly double? DifferenceDb => Ratio(Left, Right);

        public readonly double? Correlation => Left > 0 && Right > 0 ? Math.Clamp(Cross / Math.Sqrt(Left * Right), -1, 1) : null;

        public void Add(double left, double right, double cross)
        {
            Left += left;
            Right += right;
            Cross += cross;
        }
    }
}
