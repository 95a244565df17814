namespace Station.Audio.Meters;

/// <summary>Courses of single partials, each about its own mean: what is left of a note when its pitch is taken away.</summary>
/// <param name="capacity">Most values that are kept; what comes later is dropped.</param>
internal sealed class PartialTracks(int capacity)
{
    /// <summary>Deviation of one code: a millionth, 0.0017 cent.</summary>
    private const double Code = 1e-6;

    // Jitter that no track goes below, or a lone pure tone would outweigh everything: 0.02 % (own choice).
    private const double LeastJitter = 2e-4;

    private readonly List<Track> _tracks = new(capacity / PartialMeter.LeastKept);
    private readonly List<short> _values = new(capacity);

    /// <summary>Values kept.</summary>
    public int Count => _values.Count;

    /// <summary>Adds a course.</summary>
    /// <param name="firstFrame">Number of the spectrum it begins in.</param>
    /// <param name="logarithms">Natural logarithms of frequency, one a spectrum.</param>
    public void Add(int firstFrame, ReadOnlySpan<double> logarithms)
    {
        if (_values.Count + logarithms.Length > capacity)
        {
            return;
        }

        double mean = 0;
        foreach (double logarithm in logarithms)
        {
            mean += logarithm / logarithms.Length;
        }

        // Second differences: of a sway they are next to nothing, of a course that is noise they are all.
        double square = 0;
        for (int i = 1; i + 1 < logarithms.Length; i++)
        {
            double bend = logarithms[i - 1] - (2 * logarithms[i]) + logarithms[i + 1];
            square += bend * bend / 6 / (logarithms.Length - 2);
        }

        _tracks.Add(new Track(firstFrame, _values.Count, logarithms.Length, (float)(1 / (square + (LeastJitter * LeastJitter)))));
        foreach (double logarithm in logarithms)
        {
            _values.Add((short)Math.Clamp(Math.Round((logarithm - mean) / Code), short.MinValue, short.MaxValue));
        }
    }

    /// <summary>Peak deviation at a rate that fits all courses best, each about its own mean (least squares, weighted by their steadiness).</summary>
    /// <param name="cyclesPerFrame">The rate, cycles a spectrum.</param>
    /// <param name="without">A sway that is taken out before; none by default.</param>
    public Fit Sway(double cyclesPerFrame, Fit without = default)
    {
        (double otherStepSin, double otherStepCos) = Math.SinCos(2 * Math.PI * without.CyclesPerFrame);
        double cc = 0, ss = 0, cs = 0, cx = 0, sx = 0;
        (double stepSin, double stepCos) = Math.SinCos(2 * Math.PI * cyclesPerFrame);
        foreach (Track track in _tracks)
        {
            (double sin, double cos) = Math.SinCos(2 * Math.PI * (cyclesPerFrame * track.FirstFrame % 1));
            (double otherSin, double otherCos) = Math.SinCos(2 * Math.PI * (without.CyclesPerFrame * track.FirstFrame % 1));
            double tcc = 0, tss = 0, tcs = 0, tcx = 0, tsx = 0, tc = 0, ts = 0, tx = 0;
            for (int i = 0; i < track.Count; i++)
            {
                double x = _values[track.FirstValue + i] - (without.Cosine * otherCos) - (without.Sine * otherSin);
                tcc += cos * cos;
                tss += sin * sin;
                tcs += cos * sin;
                tcx += cos * x;
                tsx += sin * x;
                tc += cos;
                ts += sin;
                tx += x;
                (otherCos, otherSin) = ((otherCos * otherStepCos) - (otherSin * otherStepSin), (otherSin * otherStepCos) + (otherCos * otherStepSin));
                (cos, sin) = ((cos * stepCos) - (sin * stepSin), (sin * stepCos) + (cos * stepSin));
            }

            double w = track.Weight;
            cc += w * (tcc - (tc * tc / track.Count));
            ss += w * (tss - (ts * ts / track.Count));
            cs += w * (tcs - (tc * ts / track.Count));
            cx += w * (tcx - (tc * tx / track.Count));
            sx += w * (tsx - (ts * tx / track.Count));
        }

        double determinant = (cc * ss) - (cs * cs);
        if (determinant <= 0)
        {
            return default;
        }

        return new Fit(cyclesPerFrame, ((cx * ss) - (sx * cs)) / determinant, ((sx * cc) - (cx * cs)) / determinant);
    }

    /// <summary>A sway that fits the courses best.</summary>
    /// <param name="CyclesPerFrame">Its rate, cycles a spectrum.</param>
    /// <param name="Cosine">Its part in phase with the first spectrum, millionths.</param>
    /// <param name="Sine">The other part.</param>
    public readonly record struct Fit(double CyclesPerFrame, double Cosine, double Sine)
    {
        /// <summary>Peak deviation, 1 = the whole frequency.</summary>
        public double Amplitude => Code * Math.Sqrt((Cosine * Cosine) + (Sine * Sine));
    }

    private readonly record struct Track(int FirstFrame, int FirstValue, int Count, float Weight);
}
