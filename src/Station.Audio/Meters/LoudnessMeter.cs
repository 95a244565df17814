namespace Station.Audio.Meters;

/// <summary>Loudness (ITU-R BS.1770-5 Annex 1) and sample peak of one programme: a track, a side, a set of tracks in sequence.</summary>
/// <param name="sampleRateHz">8 000 to 384 000.</param>
/// <param name="channels">1 or 2; a single channel weighs 1.0, so it reads 3.01 LU less than the same signal in two.</param>
public sealed class LoudnessMeter(int sampleRateHz, int channels)
{
    private readonly int _channels = channels is 1 or 2
        ? channels
        : throw new ArgumentOutOfRangeException(nameof(channels), channels, "One or two channels.");

    private readonly StepBuffer _buffer = new(StepLength.Frames(sampleRateHz), channels);
    private readonly StepFilter _filter = new(sampleRateHz, channels);
    private readonly GatedLoudness _loudness = new(expectedSteps: 0);
    private readonly float[] _clean = new float[StepLength.Frames(sampleRateHz) * channels];
    private int _peakBits;

    /// <summary>Largest finite magnitude so far, linear; 1.0 is full scale. Follows every sample at once.</summary>
    public float SamplePeak => BitConverter.Int32BitsToSingle(_peakBits);

    /// <summary>Power of each whole 400 ms block so far.</summary>
    internal ReadOnlySpan<float> BlockPowers => _loudness.Blocks;

    /// <summary>Adds frames in order, in portions of any size. Samples that are not finite count as 0, finite ones beyond ±16 as ±16.</summary>
    /// <param name="interleaved">Whole frames.</param>
    /// <exception cref="ArgumentException">Not a whole number of frames.</exception>
    public void Add(ReadOnlySpan<float> interleaved)
    {
        if (interleaved.Length % _channels != 0)
        {
            throw new ArgumentException("Not a whole number of frames.", nameof(interleaved));
        }

        UpdatePeak(interleaved);
        while (_buffer.TryTake(ref interleaved, out ReadOnlySpan<float> step))
        {
            SampleScan.CopyWithoutDenormals(step, _clean);
            SampleScan.ReplaceIncredible(_clean);
            StepSums sums = _filter.Run(_clean);
            double power = sums.Filtered[0] + (_channels == 2 ? sums.Filtered[1] : 0);
            _loudness.Add(power * _channels / step.Length);
        }
    }

    /// <summary>Integrated loudness so far, LUFS; null when no 400 ms block passes the absolute gate of −70 LUFS.</summary>
    public double? IntegratedLufs() => _loudness.IntegratedLufs();

    /// <summary>Loudest 400 ms so far, LUFS, found to 20 ms; null for silence and before 400 ms.</summary>
    public double? MaxMomentaryLufs() => _loudness.MaxMomentaryLufs();

    /// <summary>Loudest 3 s so far, LUFS, found to 20 ms; null for silence and before 3 s.</summary>
    public double? MaxShortTermLufs() => _loudness.MaxShortTermLufs();

    /// <summary>Loudness range so far, LU (EBU Tech 3342); null for silence and before 3 s.</summary>
    public double? RangeLu() => _loudness.RangeLu();

    private void UpdatePeak(ReadOnlySpan<float> interleaved)
    {
        (int left, int right) = SampleScan.MaxMagnitudeBits(interleaved, _channels);
        int bits = Math.Max(left, right);
        if (bits < SampleScan.InfinityBits)
        {
            _peakBits = Math.Max(_peakBits, bits);
            return;
        }

        foreach (float sample in interleaved)
        {
            if (float.IsFinite(sample))
            {
                _peakBits = Math.Max(_peakBits, BitConverter.SingleToInt32Bits(Math.Abs(sample)));
            }
        }
    }
}
