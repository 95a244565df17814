using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Identity;
using Station.Audio.Reading;

namespace Station.Audio.Meters;

/// <summary>
/// All meters over one capture in one pass: levels here, faults in <see cref="FaultMeters"/>. Blocks may have any size: the work is done in steps of 20 ms counted from the first
/// frame, so the reading depends on the samples alone. Nothing is allocated per block when the format states its length.
/// </summary>
/// <remarks>Not for two threads at once.</remarks>
public sealed class SideMeters
{
    // Room is made ahead for at most four hours; longer, or wrongly stated, lengths grow as they come.
    private const int MaxExpectedSteps = 4 * 3600 * StepLength.StepsPerSecond;

    private const int Series = 4;

    private readonly CaptureFormat _format;
    private readonly int _channels;
    private readonly int _stepFrames;
    private readonly StepBuffer _buffer;
    private readonly StepFilter _filter;
    private readonly StepPieces _stepPieces;
    private readonly SubsonicMeter _subsonic;
    private readonly GatedLoudness _loudness;
    private readonly ClipMeter[] _clips;
    private readonly TruePeakMeter[] _truePeaks;
    private readonly InvalidSampleMeter _invalid;
    private readonly ProgrammeMeter _programme;
    private readonly StepSpectra _spectra;
    private readonly EnvelopeBandMeter _bands;
    private readonly FaultMeters? _faults;                  // null where only levels are wanted
    private readonly float[] _clean;
    private readonly float[] _pieces;
    private readonly GrowingSeries[] _series;               // per channel: band, wide, peak, subsonic
    private readonly GrowingSeries _sustained;
    private readonly GrowingSeries _loudest;
    private readonly float[] _peak;
    private readonly double[] _sum;
    private readonly double[] _square;
    private double _cross;
    private int _usedBits;
    private long _frames;
    private bool _finished;

    /// <summary>Sets the meters up for one capture.</summary>
    /// <param name="format">The capture's format; one or two channels.</param>
    /// <param name="settings">What may be told.</param>
    public SideMeters(CaptureFormat format, MeterSettings settings)
        : this(format, settings, withFaults: true)
    {
    }

    private SideMeters(CaptureFormat format, MeterSettings settings, bool withFaults)
    {
        ArgumentNullException.ThrowIfNull(format);
        ArgumentNullException.ThrowIfNull(settings);
        if (format.Channels is not (1 or 2))
        {
            throw new ArgumentException($"One or two channels can be measured, not {format.Channels}.", nameof(format));
        }

        _format = format;
        _channels = format.Channels;
        _stepFrames = StepLength.Frames(format.SampleRateHz);
        int expected = (int)Math.Clamp((format.Frames + _stepFrames - 1) / _stepFrames, 0, MaxExpectedSteps);
        _buffer = new StepBuffer(_stepFrames, _channels);
        _filter = new StepFilter(format.SampleRateHz, _channels);
        _stepPieces = new StepPieces(_channels);
        _subsonic = new SubsonicMeter(format.SampleRateHz);
        _loudness = new GatedLoudness(expected);
        _clips = [.. Enumerable.Range(0, _channels).Select(channel => new ClipMeter(channel, settings))];
        _truePeaks = [.. Enumerable.Range(0, _channels).Select(_ => new TruePeakMeter())];
        _invalid = new InvalidSampleMeter(_channels, settings.MaxInvalidPositions);
        _programme = new ProgrammeMeter(format.SampleRateHz, _channels, Math.Max(0, format.Frames));
        _spectra = new StepSpectra(format.SampleRateHz, _channels);
        _bands = new EnvelopeBandMeter(_spectra, expected);
        _faults = withFaults ? new FaultMeters(format, _programme.LowRateHz, _spectra, expected) : null;
        _clean = new float[_stepFrames * _channels];
        _pieces = new float[ProgrammePeak.Pieces * _channels];
        _series = [.. Enumerable.Range(0, Series * _channels).Select(_ => new GrowingSeries(expected))];
        _sustained = new GrowingSeries(expected);
        _loudest = new GrowingSeries(expected);
        _peak = new float[_channels];
        _sum = new double[_channels];
        _square = new double[_channels];
    }

    /// <summary>Levels, envelope and programme alone: what dividing and naming need of a capture that was judged before.</summary>
    /// <param name="format">The capture's format; one or two channels.</param>
    /// <param name="settings">What may be told.</param>
    /// <returns>Meters whose reading is the same but for what tells of faults, which is empty.</returns>
    public static SideMeters OfLevels(CaptureFormat format, MeterSettings settings) => new(format, settings, withFaults: false);

    /// <summary>Adds the next block.</summary>
    /// <exception cref="ArgumentException">The block has other channels than the format.</exception>
    /// <exception cref="InvalidOperationException">The reading was already finished.</exception>
    public void Add(in CaptureBlock block)
    {
        if (_finished)
        {
            throw new InvalidOperationException("The reading is finished.");
        }

        if (!block.IsEmpty && block.Channels != _channels)
        {
            throw new ArgumentException($"A block of {block.Channels} channels in a capture of {_channels}.", nameof(block));
        }

        _faults?.Compare(block);
        ReadOnlySpan<float> samples = block.Samples;
        while (_buffer.TryTake(ref samples, out ReadOnlySpan<float> step))
        {
            AddStep(step);
        }
    }

    /// <summary>Ends the pass: what is left of a step is measured, and the reading made.</summary>
    /// <exception cref="InvalidOperationException">Called a second time.</exception>
    public SideReading Finish()
    {
        if (_finished)
        {
            throw new InvalidOperationException("The reading is finished.");
        }

        if (!_buffer.Pending.IsEmpty)
        {
            AddStep(_buffer.Pending);
        }

        _finished = true;
        int? effectiveBits = EffectiveBits();
        (ImmutableArray<ClipRun> Runs, long Count, long ClippedFrames)[] clips = [.. _clips.Select(meter => meter.Finish(effectiveBits))];
        foreach (TruePeakMeter meter in _truePeaks)
        {
            meter.Finish();
        }

        float[][] levelSeries = [.. _series.Select(series => series.Detach())];
        LevelEnvelope envelope = new(_format.SampleRateHz, _stepFrames, _frames, levelSeries, hasSubsonics: true, _bands.Finish(levelSeries[0].Length));
        float programmePeak = ProgrammePeak.Of(_sustained.Values, _loudest.Values);
        SideReading levels = new()
        {
            SampleRateHz = _format.SampleRateHz,
            Channels = _channels,
            BitsPerSample = _format.BitsPerSample,
            EffectiveBits = effectiveBits,
            Frames = _frames,
            SamplePeakDbfs = [.. _peak.Select(peak => AmplitudeDb(peak))],
            TruePeakDbtp = [.. _truePeaks.Select(meter => AmplitudeDb(meter.Peak))],
            RmsDbfs = PerChannel(channel => PowerDb(2 * _square[channel] / _frames)),
            CrestFactorDb = PerChannel(channel => PowerDb((double)_peak[channel] * _peak[channel] * _frames / _square[channel])),
            DcOffset = [.. _sum.Select(sum => _frames == 0 ? 0 : sum / _frames)],
            LoudnessLufs = _loudness.IntegratedLufs(),
            MaxMomentaryLufs = _loudness.MaxMomentaryLufs(),
            MaxShortTermLufs = _loudness.MaxShortTermLufs(),
            LoudnessRangeLu = _loudness.RangeLu(),
            BalanceDb = Balance(),
            Correlation = Correlation(),
            ConverterClips = [.. clips.SelectMany(clip => clip.Runs).OrderBy(run => run.FirstFrame).ThenBy(run => run.Channel)],
            ConverterClipCount = [.. clips.Select(clip => clip.Count)],
            ConverterClippedFrames = [.. clips.Select(clip => clip.ClippedFrames)],
            Invalid = _invalid.Finish(),
            ProgrammePeakDbfs = AmplitudeDb(programmePeak),
            Programme = _programme.Finish(),
            Envelope = envelope,
            Outline = OutlineFinder.Of(envelope),
        };
        return _faults?.Finish(levels) ?? levels;
    }

    private static double? AmplitudeDb(double amplitude) => amplitude > 0 ? 20 * Math.Log10(amplitude) : null;

    private static double? PowerDb(double power) => power > 0 && double.IsFinite(power) ? 10 * Math.Log10(power) : null;

    private void AddStep(ReadOnlySpan<float> samples)
    {
        int frames = samples.Length / _channels;
        if (!_format.IsInteger)
        {
            Span<float> clean = _clean.AsSpan(0, samples.Length);
            SampleScan.CopyWithoutDenormals(samples, clean);
            (int left, int right) = SampleScan.MaxMagnitudeBits(clean, _channels);
            if (Math.Max(left, right) > SampleScan.FullScaleBits)
            {
                _invalid.CountAndReplace(clean, _frames);
            }

            samples = clean;
        }
        else if (!AllBitsInUse)
        {
            _usedBits |= SampleScan.UsedBits(samples);
        }

        AddPeaks(samples, frames);
        ReadOnlySpan<float> low = _programme.Add(samples);
        StepSums sums = _filter.Run(samples);
        _stepPieces.Take(samples);
        (double left, double right) subsonic = _subsonic.Add(_stepPieces);
        bool unit = _spectra.Add(samples);
        if (unit)
        {
            _bands.AddUnit();
        }

        _faults?.AddStep(samples, _stepPieces, low, sums.FilteredCross[2] / frames, unit);
        double kWeighted = 0;
        for (int channel = 0; channel < _channels; channel++)
        {
            _sum[channel] += sums.Sum[channel];
            _square[channel] += sums.Square[channel];
            kWeighted += sums.Filtered[channel];
            _series[Series * channel].AddPower(sums.Filtered[2 + channel] / frames);
            _series[(Series * channel) + 1].AddPower(sums.Square[channel] / frames);
            _series[(Series * channel) + 3].AddPower(channel == 0 ? subsonic.left : subsonic.right);
        }

        _cross += sums.Cross[0];
        if (frames == _stepFrames)
        {
            _loudness.Add(kWeighted / frames);
        }

        _frames += frames;
    }

    private void AddPeaks(ReadOnlySpan<float> samples, int frames)
    {
        for (int piece = 0; piece < ProgrammePeak.Pieces; piece++)
        {
            int from = frames * piece / ProgrammePeak.Pieces * _channels;
            int to = frames * (piece + 1) / ProgrammePeak.Pieces * _channels;
            (int left, int right) = SampleScan.MaxMagnitudeBits(samples[from..to], _channels);
            _pieces[piece] = BitConverter.Int32BitsToSingle(left);
            if (_channels == 2)
            {
                _pieces[ProgrammePeak.Pieces + piece] = BitConverter.Int32BitsToSingle(right);
            }
        }

        float sustained = 0;
        float loudest = 0;
        for (int channel = 0; channel < _channels; channel++)
        {
            ReadOnlySpan<float> pieces = _pieces.AsSpan(channel * ProgrammePeak.Pieces, ProgrammePeak.Pieces);
            float peak = 0;
            foreach (float piece in pieces)
            {
                peak = Math.Max(peak, piece);
            }

            sustained = Math.Max(sustained, ProgrammePeak.Sustained(pieces));
            loudest = Math.Max(loudest, peak);
            _peak[channel] = Math.Max(_peak[channel], peak);
            _series[(Series * channel) + 2].Add(peak);
            _clips[channel].Add(samples, _channels, _frames, peak >= ClipMeter.LowestCeiling);
            _faults?.AddChannel(channel, samples, _frames, pieces);
            _truePeaks[channel].Add(samples, _channels, channel, peak);
        }

        _sustained.Add(sustained);
        _loudest.Add(loudest);
    }

    private bool AllBitsInUse => _usedBits != 0 && 32 - int.TrailingZeroCount(_usedBits) >= _format.BitsPerSample;

    private int? EffectiveBits() => !_format.IsInteger || _usedBits == 0 ? null : 32 - int.TrailingZeroCount(_usedBits);

    private ImmutableArray<double?> PerChannel(Func<int, double?> value) => [.. Enumerable.Range(0, _channels).Select(value)];

    // Variance of a channel, 0 when all that is left after removing DC is rounding.
    private double Variance(int channel)
    {
        double variance = _square[channel] - (_sum[channel] * _sum[channel] / _frames);
        return variance > 1e-12 * _square[channel] ? variance : 0;
    }

    private double? Balance() => _channels == 2 && Variance(1) > 0 ? PowerDb(Variance(0) / Variance(1)) : null;

    private double? Correlation()
    {
        if (_channels != 2 || Variance(0) == 0 || Variance(1) == 0)
        {
            return null;
        }

        double covariance = _cross - (_sum[0] * _sum[1] / _frames);
        return Math.Clamp(covariance / Math.Sqrt(Variance(0) * Variance(1)), -1, 1);
    }
}
