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

    // Phases: predictor and windows in seconds as at joints; behind the click in two ways, for the sooner the more is foretold, and the later the less the click disturbs (own choice).
    private const double PhaseOrderSeconds = 0.0145;
    private const double PhaseSideSeconds = 0.1;
    private const double PhaseLongSeconds = 0.012;
    private const double PhaseShortSeconds = 0.007;
    private const double PhaseApartSeconds = 0.0025;
    private const double PhaseHighestHz = 2_500;
    private static readonly double[] PhaseBehindSeconds = [0.002, 0.006];

    private readonly double _rateHz;
    private readonly PhaseContinuity[] _phases;
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
        _phases = [.. PhaseBehindSeconds.Select(behind => new PhaseContinuity(
            rateHz,
            new PhaseShape(
                Samples(PhaseOrderSeconds), Samples(PhaseSideSeconds), Samples(BeforeSeconds) + Samples(behind), Samples(PhaseLongSeconds), Samples(PhaseShortSeconds), Samples(PhaseApartSeconds)),
            PhaseHighestHz))];
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
    public JumpInstant Find(ReadOnlySpan<float> sound)
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

        bool asked = worst.Continuity <= MostContinuity;
        return new JumpInstant(worst.At, worst.Continuity, asked ? Break(worst.At) : 0, asked ? Phases(sound, worst.At) : 0);
    }

    // Mean over both distances of what both directions together say.
    private double Phases(ReadOnlySpan<float> sound, int at)
    {
        double sum = 0;
        for (int i = 0; i < _phases.Length; i++)
        {
            PhaseContinuity phases = _phases[i];
            int before = at - Samples(BeforeSeconds);
            int behind = at + Samples(PhaseBehindSeconds[i]);
            Copy(sound[(before - phases.Before.Length)..before], phases.Before);
            Copy(sound.Slice(behind, phases.Behind.Length), phases.Behind);
            sum += phases.Break();
            Copy(sound.Slice(behind, phases.Before.Length), phases.Before);
            phases.Before.Reverse();
            Copy(sound[(before - phases.Behind.Length)..before], phases.Behind);
            phases.Behind.Reverse();
            sum += phases.Break();
        }

        return sum / _phases.Length;
    }

    private static void Copy(ReadOnlySpan<float> from, Span<double> to)
    {
        for (int i = 0; i < to.Length; i++)
        {
            to[i] = from[i];
        }
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

/// <summary>The instant near a burst at which least of the music goes on.</summary>
/// <param name="At">Place in the sound looked at.</param>
/// <param name="Continuity">As in <see cref="Knock"/>.</param>
/// <param name="Break">As in <see cref="Knock"/>.</param>
/// <param name="Phases">As in <see cref="Knock"/>.</param>
internal readonly record struct JumpInstant(int At, double Continuity, double Break, double Phases);
