namespace Station.Audio.Meters.Skips;

/// <summary>Looks whether the music breaks off at a burst and other music begins: within a millisecond, in all bands at once.</summary>
internal sealed class JumpProof
{
    // Where the jump may lie, seconds from the moment the burst's power is highest: filters and the window of 40 ms delay it.
    private const double FromSeconds = -0.090;
    private const double ToSeconds = 0.010;

    // Filters settle before anything is looked at.
    private const double SettleSeconds = 0.06;

    // A jump lies between two samples; the click that goes with it has a few milliseconds (own choice).
    private const double BeforeSeconds = 0.0015;
    private const double BehindSeconds = 0.004;

    // Other instants around, which tell how well this music can be foretold at all: outside the burst, and so near that it is the same music. Seconds, own choice.
    private static readonly double[] AroundSeconds = [-0.25, -0.17, 0.17, 0.25];

    // Where so much goes on nothing has broken off, and it is not worth asking what goes on around (own choice).
    private const double MostContinuity = 0.85;

    // Instants tried: the largest surprises of a short predictor (own choice).
    private const int Instants = 4;
    private const int ShortOrder = 24;
    private const double InstantSeconds = 0.001;
    private const double ApartSeconds = 0.004;

    // From here on the burst itself has nothing more (measured on tuning sides).
    private const double LowestHz = 140;

    // Band, predictor's order, seconds it is made from, seconds compared: long enough for several waves of the band. A band that goes on is enough to tell that there was no jump. Own choice.
    private static readonly (double LowHz, double HighHz, int Order, double TrainSeconds, double AheadSeconds)[] Bands =
        [(LowestHz, 0, 64, 0.09, 0.016), (110, 420, 24, 0.12, 0.040), (400, 1_000, 32, 0.10, 0.024), (950, 2_100, 48, 0.08, 0.016)];

    private readonly double _rateHz;
    private readonly Continuation[] _continuations;
    private readonly BiquadCoefficients[][] _filters;
    private readonly float[][] _bands;
    private readonly double[] _residual;

    /// <param name="rateHz">Samples per second, 5 to 8 kHz.</param>
    public JumpProof(double rateHz)
    {
        _rateHz = rateHz;
        _continuations = [.. Bands.Select(band => new Continuation(
            band.Order, Samples(band.TrainSeconds), Samples(band.AheadSeconds), Samples(BeforeSeconds), Samples(BehindSeconds)))];
        _filters = [.. Bands.Select(band => (BiquadCoefficients[])(band.HighHz > 0
            ? [SubsonicBand.HighPass(band.LowHz, rateHz), .. SubsonicBand.FourthOrderLowPass(band.HighHz, rateHz)]
            : [SubsonicBand.HighPass(band.LowHz, rateHz)]))];
        int reach = _continuations.Max(each => each.Reach) + Samples(AroundSeconds[^1]) + 2;
        SamplesBefore = Samples(SettleSeconds) + reach - Samples(FromSeconds);
        SamplesInAll = SamplesBefore + Samples(ToSeconds) + reach;
        _bands = [.. Bands.Select(_ => new float[SamplesInAll])];
        _residual = new double[Samples(ToSeconds) - Samples(FromSeconds)];
    }

    /// <summary>Samples needed before the moment the burst's power is highest.</summary>
    public int SamplesBefore { get; }

    /// <summary>Samples needed in all.</summary>
    public int SamplesInAll { get; }

    /// <summary>The instant at which least goes on, and how much does.</summary>
    /// <param name="sound"><see cref="SamplesInAll"/> samples.</param>
    /// <returns>Place in <paramref name="sound"/>, continuity and break as in <see cref="Knock"/>.</returns>
    public (int At, double Continuity, double Break) Find(ReadOnlySpan<float> sound)
    {
        for (int band = 0; band < _bands.Length; band++)
        {
            Filter(sound, _filters[band], _bands[band]);
        }

        Surprise(_bands[0]);
        int from = SamplesBefore + Samples(FromSeconds);
        (int At, double Continuity) worst = (SamplesBefore, 1);
        for (int i = 0; i < Instants; i++)
        {
            int best = 0;
            for (int k = 1; k < _residual.Length; k++)
            {
                best = _residual[k] > _residual[best] ? k : best;
            }

            int at = from + best;
            double continuity = -1;
            for (int band = 0; band < _bands.Length && continuity < worst.Continuity; band++)
            {
                continuity = Math.Max(continuity, _continuations[band].Of(_bands[band], at));
            }

            if (continuity < worst.Continuity)
            {
                worst = (at, continuity);
            }

            _residual.AsSpan(Math.Max(0, best - Samples(ApartSeconds))..Math.Min(_residual.Length, best + Samples(ApartSeconds))).Fill(-1);
        }

        return (worst.At, worst.Continuity, worst.Continuity <= MostContinuity ? Break(worst.At) : 0);
    }

    // Mean over bands of what usually goes on around, less what does here.
    private double Break(int at)
    {
        double sum = 0;
        Span<double> around = stackalloc double[AroundSeconds.Length];
        for (int band = 0; band < _bands.Length; band++)
        {
            for (int i = 0; i < around.Length; i++)
            {
                around[i] = _continuations[band].Of(_bands[band], at + Samples(AroundSeconds[i]));
            }

            around.Sort();
            sum += ((around[(around.Length / 2) - 1] + around[around.Length / 2]) / 2) - _continuations[band].Of(_bands[band], at);
        }

        return sum / _bands.Length;
    }

    private int Samples(double seconds) => (int)Math.Round(seconds * _rateHz);

    private static void Filter(ReadOnlySpan<float> sound, BiquadCoefficients[] sections, float[] filtered)
    {
        sound.CopyTo(filtered);
        foreach (BiquadCoefficients c in sections)
        {
            double first = 0, second = 0;
            foreach (ref float sample in filtered.AsSpan())
            {
                double x = sample;
                double y = (c.B0 * x) + first;
                first = (c.B1 * x) + second - (c.A1 * y);
                second = (c.B2 * x) - (c.A2 * y);
                sample = (float)y;
            }
        }
    }

    // What a predictor of the whole stretch misses from each instant on, for a millisecond.
    private void Surprise(ReadOnlySpan<float> sound)
    {
        int from = SamplesBefore + Samples(FromSeconds);
        int margin = Samples(0.035);
        double[] stretch = new double[_residual.Length + (2 * margin)];
        for (int i = 0; i < stretch.Length; i++)
        {
            stretch[i] = sound[from - margin + i];
        }

        var predictor = new BurgPredictor(ShortOrder, stretch.Length);
        predictor.Fit(stretch);
        ReadOnlySpan<double> coefficients = predictor.Coefficients;
        int window = Math.Max(3, Samples(InstantSeconds));
        Span<double> missed = stackalloc double[_residual.Length + window];
        for (int i = 0; i < missed.Length; i++)
        {
            double sum = 0;
            for (int k = 0; k <= ShortOrder; k++)
            {
                sum += coefficients[k] * sound[from + i - k];
            }

            missed[i] = sum * sum;
        }

        for (int i = 0; i < _residual.Length; i++)
        {
            double sum = 0;
            foreach (double square in missed.Slice(i, window))
            {
                sum += square;
            }

            _residual[i] = sum;
        }
    }
}
