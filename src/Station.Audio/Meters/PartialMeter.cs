using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Follows the strong partials of the sound from one short spectrum to the next and keeps the courses of those that last.</summary>
/// <remarks>
/// Frequencies come from the phase that a partial gains from one spectrum to the next (the phase vocoder's measure: J. L. Flanagan and R. M. Golden, Bell
/// System Technical Journal 45, 1966, from memory).
/// </remarks>
internal sealed class PartialMeter
{
    /// <summary>Samples of a spectrum: 95 ms at 5.4 kHz, in which a sway of 2 % moves a partial of 1 kHz by less than the spectrum resolves.</summary>
    public const int Length = 512;

    /// <summary>Samples from one to the next.</summary>
    public const int Hop = Length / 2;

    /// <summary>Values of a course at least.</summary>
    public const int LeastKept = 6;

    private const double LowHz = 200;
    private const double HighHz = 2_100;
    private const int MostPartials = 24;

    // Courses of at least 0.3 s, at most 3 s; then a new one begins. Own choice.
    private const int LeastFrames = LeastKept;
    private const int MostFrames = 64;

    // An hour of music as measured (3,700 values a minute); what comes later adds nothing. Own choice, 1 MB with the courses' heads.
    private const int MostValues = 240_000;

    // Partials more than 50 dB below the strongest are as good as noise (own choice).
    private const float LeastShare = 1e-5f;

    // Mean square of the samples below which there is nothing to follow: −80 dBFS (own choice).
    private const double Silence = 1e-8;

    // ±2 % at 78 rev/min moves 0.8 % from one spectrum to the next.
    private const double MostStep = 0.012;

    private static readonly float[] Window = [.. Enumerable.Range(0, Length).Select(i => (float)((0.5 - (0.5 * Math.Cos(2 * Math.PI * i / Length))) / Length))];

    private readonly int _firstBin;
    private readonly int _endBin;
    private readonly float[] _samples = new float[Length + Hop];    // of two spectra
    private readonly SingleFft _spectra = new(Length);
    private readonly float[] _power = new float[Length / 2];
    private float[] _cos = new float[Length / 2];
    private float[] _sin = new float[Length / 2];
    private float[] _lastCos = new float[Length / 2];
    private float[] _lastSin = new float[Length / 2];
    private Course[] _courses = [.. Enumerable.Range(0, MostPartials).Select(_ => new Course())];
    private Course[] _before = [.. Enumerable.Range(0, MostPartials).Select(_ => new Course())];
    private int _beforeCount;
    private int _frame;
    private int _filled = Hop;          // the stream begins after silence

    /// <param name="rateHz">Samples per second, 5 to 8 kHz.</param>
    public PartialMeter(double rateHz)
    {
        PerSecond = rateHz / Hop;
        _firstBin = (int)Math.Ceiling(LowHz * Length / rateHz);
        _endBin = (int)(HighHz * Length / rateHz);
    }

    /// <summary>Spectra per second.</summary>
    public double PerSecond { get; }

    /// <summary>The courses so far, those that last still left out.</summary>
    public PartialTracks Tracks { get; } = new(MostValues);

    /// <summary>Adds samples.</summary>
    public void Add(ReadOnlySpan<float> samples)
    {
        while (!samples.IsEmpty)
        {
            int count = Math.Min(samples.Length, _samples.Length - _filled);
            samples[..count].CopyTo(_samples.AsSpan(_filled));
            samples = samples[count..];
            _filled += count;
            if (_filled == _samples.Length)
            {
                Follow();
                _samples.AsSpan(2 * Hop).CopyTo(_samples);
                _filled = Hop;
            }
        }
    }

    private void Follow()
    {
        double square = 0;
        foreach (float sample in _samples)
        {
            square += sample * sample;
        }

        if (square < Silence * _samples.Length)
        {
            EndCourses();
            _frame += 2;
            return;
        }

        // Two real spectra at once, one as the imaginary part of the other.
        Windowed(_samples.AsSpan(0, Length), _spectra.Real);
        Windowed(_samples.AsSpan(Hop), _spectra.Imaginary);
        _spectra.Run();
        ReadOnlySpan<float> real = _spectra.Real;
        ReadOnlySpan<float> imaginary = _spectra.Imaginary;
        for (int second = 0; second < 2; second++)
        {
            for (int k = _firstBin - 2; k < _endBin + 2; k++)
            {
                int mirror = Length - k;
                (float re, float im) = second == 0
                    ? (real[k] + real[mirror], imaginary[k] - imaginary[mirror])
                    : (imaginary[k] + imaginary[mirror], real[mirror] - real[k]);
                _cos[k] = re;
                _sin[k] = im;
                _power[k] = (re * re) + (im * im);
            }

            FindPartials();
            (_cos, _lastCos) = (_lastCos, _cos);
            (_sin, _lastSin) = (_lastSin, _sin);
            _frame++;
        }
    }

    private static void Windowed(ReadOnlySpan<float> samples, Span<float> into)
    {
        for (int i = 0; i < into.Length; i += Vector256<float>.Count)
        {
            (Vector256.Create(samples[i..]) * Vector256.Create(Window.AsSpan(i))).CopyTo(into[i..]);
        }
    }

    // In order of frequency. Where there are more than room for, the lowest.
    private void FindPartials()
    {
        float strongest = 0;
        for (int k = _firstBin; k < _endBin; k++)
        {
            strongest = Math.Max(strongest, _power[k]);
        }

        float least = LeastShare * strongest;
        int count = 0;
        int at = 0;
        for (int k = _firstBin; k < _endBin && count < MostPartials; k++)
        {
            float power = _power[k];
            if (power <= least || power <= _power[k - 1] || power < _power[k + 1] || power <= _power[k - 2] || power < _power[k + 2])
            {
                continue;
            }

            // Half a length on, a wave of k cycles a length has gained k half turns; what it gained beyond tells its frequency.
            double re = ((double)_cos[k] * _lastCos[k]) + ((double)_sin[k] * _lastSin[k]);
            double im = ((double)_sin[k] * _lastCos[k]) - ((double)_cos[k] * _lastSin[k]);
            double offset = ((k & 1) == 0 ? Math.Atan2(im, re) : Math.Atan2(-im, -re)) / Math.PI;
            if (Math.Abs(offset - Parabola(k)) > 0.3)
            {
                continue;
            }

            double frequency = k + offset;
            while (at < _beforeCount && _before[at].Frequency < frequency * (1 - MostStep))
            {
                End(_before[at++]);
            }

            if (at < _beforeCount && _before[at].Frequency <= frequency * (1 + MostStep) && _before[at].Count < MostFrames)
            {
                (_courses[count], _before[at]) = (_before[at], _courses[count]);
                at++;
            }
            else
            {
                _courses[count].Count = 0;
                _courses[count].FirstFrame = _frame;
            }

            _courses[count++].Add(frequency);
        }

        while (at < _beforeCount)
        {
            End(_before[at++]);
        }

        (_courses, _before) = (_before, _courses);
        _beforeCount = count;
    }

    private void EndCourses()
    {
        for (int i = 0; i < _beforeCount; i++)
        {
            End(_before[i]);
        }

        _beforeCount = 0;
    }

    // The first and the last value lie in an onset or a decay.
    private void End(Course course)
    {
        if (course.Count >= LeastFrames + 2)
        {
            Tracks.Add(course.FirstFrame + 1, course.Logarithms.AsSpan(1, course.Count - 2));
        }
    }

    // The place of the peak between the bins, from the logarithms of three powers.
    private double Parabola(int k)
    {
        double before = Math.Log(_power[k - 1] + 1e-30);
        double top = Math.Log(_power[k] + 1e-30);
        double behind = Math.Log(_power[k + 1] + 1e-30);
        double bend = before - (2 * top) + behind;
        return bend < 0 ? 0.5 * (before - behind) / bend : 0;
    }

    private sealed class Course
    {
        public double[] Logarithms { get; } = new double[MostFrames];

        public int Count { get; set; }

        public int FirstFrame { get; set; }

        public double Frequency { get; private set; }

        public void Add(double frequency)
        {
            Frequency = frequency;
            Logarithms[Count++] = Math.Log(frequency);
        }
    }
}
