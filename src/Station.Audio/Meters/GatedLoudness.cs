namespace Station.Audio.Meters;

/// <summary>
/// From K-weighted power in steps of 20 ms to integrated, momentary and short-term loudness (ITU-R BS.1770-5 Annex 1, EBU Tech 3341).
/// </summary>
/// <remarks>
/// Blocks of 400 ms every 100 ms (75 % overlap), absolute gate −70 LUFS, relative gate 10 LU below the mean of the blocks that pass the
/// first, an incomplete last block dropped. Momentary (400 ms) and short-term (3 s) are taken every 20 ms: cases 13 and 14 of Tech 3341
/// cannot be met with the usual 100 ms.
/// </remarks>
internal sealed class GatedLoudness
{
    private const int MomentarySteps = 20;
    private const int ShortTermSteps = 150;
    private const int BlockHopSteps = 5;
    private const int RangeHopSteps = 10;
    private const double OffsetLu = -0.691;
    private const double AbsoluteGateLufs = -70;
    private const double RelativeGateLu = -10;

    private readonly double[] _recent = new double[ShortTermSteps];
    private float[] _blocks;
    private int _blockCount;
    private float[] _shortTerm;
    private int _shortTermCount;
    private long _steps;
    private double _maxMomentary;
    private double _maxShortTerm;

    /// <param name="expectedSteps">Steps to make room for; more may come.</param>
    public GatedLoudness(int expectedSteps)
    {
        _blocks = new float[Math.Max(16, expectedSteps / BlockHopSteps)];
        _shortTerm = new float[Math.Max(16, expectedSteps / RangeHopSteps)];
    }

    /// <summary>Power of the newest 400 ms; 0 before there are as many.</summary>
    public double MomentaryPower { get; private set; }

    /// <summary>Power of the newest 3 s; 0 before there are as many.</summary>
    public double ShortTermPower { get; private set; }

    /// <summary>Power of each whole block so far, before any gate.</summary>
    public ReadOnlySpan<float> Blocks => _blocks.AsSpan(0, _blockCount);

    /// <summary>Adds one whole step.</summary>
    /// <param name="power">Mean square of the K-weighted channels, summed over them (left and right weigh 1.0, as does a single channel).</param>
    public void Add(double power)
    {
        _recent[(int)(_steps % ShortTermSteps)] = power;
        _steps++;
        if (_steps >= MomentarySteps)
        {
            MomentaryPower = MeanOfLast(MomentarySteps);
            _maxMomentary = Math.Max(_maxMomentary, MomentaryPower);
            if ((_steps - MomentarySteps) % BlockHopSteps == 0)
            {
                Append(ref _blocks, ref _blockCount, MomentaryPower);
            }
        }

        if (_steps >= ShortTermSteps)
        {
            ShortTermPower = MeanOfLast(ShortTermSteps);
            _maxShortTerm = Math.Max(_maxShortTerm, ShortTermPower);
            if ((_steps - ShortTermSteps) % RangeHopSteps == 0)
            {
                Append(ref _shortTerm, ref _shortTermCount, ShortTermPower);
            }
        }
    }

    /// <summary>Integrated loudness, LUFS; null when no block passes the absolute gate.</summary>
    public double? IntegratedLufs()
    {
        ReadOnlySpan<float> blocks = _blocks.AsSpan(0, _blockCount);
        double absolute = Power(AbsoluteGateLufs);
        double mean = MeanAbove(blocks, absolute);
        if (mean == 0)
        {
            return null;
        }

        double relative = mean * Math.Pow(10, RelativeGateLu / 10);
        return Lufs(MeanAbove(blocks, Math.Max(absolute, relative)));
    }

    /// <summary>Loudest 400 ms, LUFS; null for silence and before the first 400 ms.</summary>
    public double? MaxMomentaryLufs() => _maxMomentary > 0 ? Lufs(_maxMomentary) : null;

    /// <summary>Loudest 3 s, LUFS; null for silence and before the first 3 s.</summary>
    public double? MaxShortTermLufs() => _maxShortTerm > 0 ? Lufs(_maxShortTerm) : null;

    /// <summary>Loudness range, LU (EBU Tech 3342); null when nothing of 3 s passes the absolute gate. Not stable before a minute of programme.</summary>
    public double? RangeLu() => LoudnessRange.Of(_shortTerm.AsSpan(0, _shortTermCount), Power(AbsoluteGateLufs));

    private static void Append(ref float[] values, ref int count, double value)
    {
        if (count == values.Length)
        {
            Array.Resize(ref values, values.Length * 2);
        }

        values[count++] = (float)value;      // a ten-millionth of the power: nothing of a LU
    }

    private static double Lufs(double power) => OffsetLu + (10 * Math.Log10(power));

    private static double Power(double lufs) => Math.Pow(10, (lufs - OffsetLu) / 10);

    private static double MeanAbove(ReadOnlySpan<float> blocks, double threshold)
    {
        double sum = 0;
        int count = 0;
        foreach (float block in blocks)
        {
            if (block > threshold)
            {
                sum += block;
                count++;
            }
        }

        return count == 0 ? 0 : sum / count;
    }

    // Summed afresh each time: a running sum would keep rounding errors of a loud passage into a quiet one.
    private double MeanOfLast(int steps)
    {
        double sum = 0;
        for (long step = _steps - steps; step < _steps; step++)
        {
            sum += _recent[(int)(step % ShortTermSteps)];
        }

        return sum / steps;
    }
}
