using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Gathers <see cref="EnvelopeBands"/> from the spectra of the steps.</summary>
internal sealed class EnvelopeBandMeter
{
    private readonly StepSpectra _spectra;
    private readonly int[] _band;                           // of each line; −1 for none
    private readonly Vector256<float>[] _scale;
    private readonly Vector256<float>[] _sums;
    private readonly byte[] _codes;                         // of one unit: step by step within a band
    private byte[][] _series;
    private int _steps;
    private float? _offsetDb;                               // from the first step that is not silent

    /// <param name="spectra">What is read after each of its units.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public EnvelopeBandMeter(StepSpectra spectra, int expectedSteps)
    {
        _spectra = spectra;
        _band = new int[spectra.Lines];
        _scale = new Vector256<float>[spectra.Lines];
        Array.Fill(_band, -1);
        for (int line = 1; line < spectra.Lines; line++)
        {
            double hz = spectra.Hz(line);
            for (int band = 0; band < EnvelopeBands.Count; band++)
            {
                if (hz >= EnvelopeBands.EdgesHz[band] && hz < EnvelopeBands.EdgesHz[band + 1])
                {
                    _band[line] = band;
                }
            }

            _scale[line] = Vector256.Create((float)spectra.Scale(line));
        }

        int series = spectra.Channels * EnvelopeBands.Count;
        _sums = new Vector256<float>[series];
        _codes = new byte[series * StepSpectra.UnitSteps];
        _series = [.. Enumerable.Range(0, series).Select(_ => new byte[Math.Max(16, expectedSteps)])];
    }

    /// <summary>Takes the spectra's unit.</summary>
    /// <param name="steps">Steps of it that count, from the first.</param>
    public void AddUnit(int steps = StepSpectra.UnitSteps)
    {
        Array.Clear(_sums);
        Vector256<float> half = Vector256.Create(0.5f);
        for (int line = 1; line < _band.Length; line++)
        {
            int band = _band[line];
            if (band < 0)
            {
                continue;
            }

            (Vector256<float> left, Vector256<float> right) = _spectra.Powers(line);
            if (_spectra.Channels == 1)
            {
                _sums[band] += _scale[line] * left;
                continue;
            }

            // |L ± R|² ÷ 4: a tone on both channels reads as on one; the two add up to the mean of the channels.
            Vector256<float> mean = half * half * (left + right);
            Vector256<float> cross = half * _spectra.Cross(line);
            _sums[band] += _scale[line] * (mean + cross);
            _sums[EnvelopeBands.Count + band] += _scale[line] * (mean - cross);
        }

        _offsetDb ??= Offset(steps);
        Span<float> lanes = stackalloc float[StepSpectra.UnitSteps];
        for (int i = 0; i < _sums.Length; i++)
        {
            _sums[i].CopyTo(lanes);
            for (int step = 0; step < steps; step++)
            {
                _codes[(i * StepSpectra.UnitSteps) + step] = EnvelopeBands.Code(lanes[step], _offsetDb ?? 0);
            }
        }

        Append(steps);
    }

    /// <summary>The bands of all steps.</summary>
    /// <param name="steps">Steps of the envelope: a shorter last step, which has no spectrum, is taken to sound like the one before.</param>
    public EnvelopeBands Finish(int steps)
    {
        int left = _spectra.Flush();
        if (left > 0)
        {
            AddUnit(left);
        }

        byte[][] series = _series;
        for (int i = 0; i < series.Length; i++)
        {
            // Room made ahead is as long as the envelope where the capture's length was known: nothing is copied then.
            if (series[i].Length != steps)
            {
                Array.Resize(ref series[i], steps);
            }

            if (_steps < steps)
            {
                series[i].AsSpan(_steps).Fill(_steps > 0 ? series[i][_steps - 1] : (byte)0);
            }
        }

        _series = [];
        return new EnvelopeBands(series, _offsetDb ?? 0);
    }

    private float? Offset(int steps)
    {
        Vector256<float> all = default;
        foreach (Vector256<float> sum in _sums)
        {
            all += sum;
        }

        for (int step = 0; step < steps; step++)
        {
            if (all[step] > 0)
            {
                return EnvelopeBands.OffsetOf(all[step]);
            }
        }

        return null;
    }

    private void Append(int steps)
    {
        for (int i = 0; i < _series.Length; i++)
        {
            if (_series[i].Length < _steps + steps)
            {
                Array.Resize(ref _series[i], Math.Max(2 * _series[i].Length, _steps + steps));
            }

            _codes.AsSpan(i * StepSpectra.UnitSteps, steps).CopyTo(_series[i].AsSpan(_steps));
        }

        _steps += steps;
    }
}
