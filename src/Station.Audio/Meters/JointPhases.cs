namespace Station.Audio.Meters;

/// <summary>Whether the notes go on in phase across an instant.</summary>
/// <remarks>
/// <para>
/// A tick, a drum or a new note adds something to notes that go on. Where frames are missing, every note breaks off and begins again, as loud as before, at another phase.
/// So the music before the instant is continued by a long linear predictor (Burg's method, order <see cref="Order"/>) made from its last 80 ms, and band by band the
/// continuation is held against what came: c = Re(A·P*) / ((|A|² + |P|²)/2), A what came, P what was predicted. Notes that go on give a c near 1, notes that were cut one near 0 on average,
/// of either sign. The same is done backwards. How well each band can be predicted at all is measured at instants inside the one side, with the same predictor; bands that
/// cannot, and bands in which the level changes, say nothing.
/// </para>
/// <para>
/// Both the sum and the difference of the channels are thinned to about 5.5 kHz, on a grid that begins at the instant, so that no filter mixes the two sides.
/// </para>
/// </remarks>
internal sealed class JointPhases
{
    /// <summary>Order of the predictor (own choice).</summary>
    public const int Order = 80;

    private const double RateHz = 5512;
    private const int Side = 440;                           // thinned samples on either side: 80 ms
    private const int Gap = 3;                              // thinned samples that would lie between the two sides
    private const int LongWindow = 66;                      // 12 ms
    private const int ShortWindow = 40;                     // 7 ms
    private const double HighestHz = 2200;                  // what the thinning leaves alone
    private const int Instants = 8;                         // that tell how well a band can be predicted
    private const int InstantsApart = 14;
    private const double LeastUsual = 0.5;                  // bands whose usual c is less say nothing
    private const double MostLevelRatio = 6;                // of powers
    private const double LeastShare = 0.05;                 // of the band's usual power
    private const double NoPower = 1e-14;
    private const double Middle = 0.55;                     // of the usual c: half-way between going on and not
    private const double ShortWeight = 1.6;                 // short windows have fewer bands

    private readonly int _thin;
    private readonly float[] _lowPass;
    private readonly Bands _long = new(LongWindow);
    private readonly Bands _short = new(ShortWindow);
    private readonly double[][] _before = [new double[Side], new double[Side]];
    private readonly double[][] _after = [new double[Side], new double[Side]];
    private readonly double[] _from = new double[Side];
    private readonly double[] _to = new double[LongWindow];
    private readonly BurgPredictor _predictor = new(Order, Side);
    private readonly double[] _reversed = new double[Order];
    private readonly double[] _continued = new double[Order + Gap + LongWindow];

    public JointPhases(int sampleRateHz)
    {
        _thin = Math.Max(1, (int)Math.Round(sampleRateHz / RateHz));
        int half = 2 * _thin;
        _lowPass = [.. WindowedSinc.LowPass((2 * half) + 1, 0.4 / _thin).Select(tap => (float)tap)];
        Reach = ((Side + 2) * _thin) + half;
    }

    /// <summary>Frames on either side that must be there.</summary>
    public int Reach { get; }

    /// <summary>The evidence for a break; 0 where nothing can be told.</summary>
    /// <param name="samples">Left and right in turn.</param>
    /// <param name="frame">The first frame behind the instant.</param>
    public double Break(ReadOnlySpan<float> samples, int frame)
    {
        int half = 2 * _thin;
        for (int i = 0; i < Side; i++)
        {
            Thin(samples, frame - half - 1 - ((Side - 1 - i) * _thin), _before, i);
            Thin(samples, frame + half - 1 + (i * _thin), _after, i);
        }

        double evidence = 0;
        for (int channel = 0; channel < 2; channel++)
        {
            _before[channel].CopyTo(_from, 0);
            _after[channel].AsSpan(0, LongWindow).CopyTo(_to);
            evidence += OneWay();
            _after[channel].CopyTo(_from, 0);
            Array.Reverse(_from);
            _before[channel].AsSpan(Side - LongWindow).CopyTo(_to);
            Array.Reverse(_to);
            evidence += OneWay();
        }

        return evidence / 2;
    }

    // Sum and difference of the channels.
    private void Thin(ReadOnlySpan<float> samples, int centre, double[][] target, int index)
    {
        float left = 0;
        float right = 0;
        ReadOnlySpan<float> piece = samples.Slice(2 * (centre - (_lowPass.Length / 2)), 2 * _lowPass.Length);
        for (int k = 0; k < _lowPass.Length; k++)
        {
            left += _lowPass[k] * piece[2 * k];
            right += _lowPass[k] * piece[(2 * k) + 1];
        }

        target[0][index] = (double)left + right;
        target[1][index] = (double)left - right;
    }

    private double OneWay()
    {
        double mean = 0;
        foreach (double value in _from)
        {
            mean += value;
        }

        mean /= Side;
        double power = 0;
        for (int i = 0; i < Side; i++)
        {
            _from[i] -= mean;
            power += _from[i] * _from[i];
        }

        for (int i = 0; i < _to.Length; i++)
        {
            _to[i] -= mean;
        }

        if (power < NoPower)
        {
            return 0;
        }

        _predictor.Fit(_from);
        for (int i = 0; i < Order; i++)
        {
            _reversed[i] = _predictor.Coefficients[Order - i];
        }

        _long.Clear();
        _short.Clear();
        for (int i = 0; i < Instants; i++)
        {
            int end = Side - Gap - LongWindow - (i * InstantsApart);
            ReadOnlySpan<double> predicted = Continue(end);
            ReadOnlySpan<double> came = _from.AsSpan(end + Gap, LongWindow);
            _long.AddUsual(came, predicted);
            _short.AddUsual(came, predicted);
        }

        ReadOnlySpan<double> beyond = Continue(Side);
        return _long.Evidence(_to, beyond) + (ShortWeight * _short.Evidence(_to, beyond));
    }

    // What follows the sample before end, behind the gap.
    private ReadOnlySpan<double> Continue(int end)
    {
        _from.AsSpan(end - Order, Order).CopyTo(_continued);
        for (int i = 0; i < Gap + LongWindow; i++)
        {
            _continued[Order + i] = -InnerProduct.Of(_reversed, _continued.AsSpan(i, Order));
        }

        return _continued.AsSpan(Order + Gap);
    }

    // The bands of one length of window: its Fourier components.
    private sealed class Bands
    {
        private readonly int _window;
        private readonly int _count;
        private readonly double[][] _cosine;
        private readonly double[][] _sine;
        private readonly double[] _common;
        private readonly double[] _power;

        public Bands(int window)
        {
            _window = window;
            _count = (int)(HighestHz * window / RateHz);
            _cosine = [.. Enumerable.Range(1, _count).Select(band => Wave(band, 0))];
            _sine = [.. Enumerable.Range(1, _count).Select(band => Wave(band, Math.PI / 2))];
            _common = new double[_count];
            _power = new double[_count];

            double[] Wave(int band, double shift) =>
                [.. Enumerable.Range(0, window).Select(i => (0.5 - (0.5 * Math.Cos(2 * Math.PI * (i + 0.5) / window))) * Math.Cos((2 * Math.PI * band * i / window) - shift))];
        }

        public void Clear()
        {
            Array.Clear(_common);
            Array.Clear(_power);
        }

        public void AddUsual(ReadOnlySpan<double> came, ReadOnlySpan<double> predicted)
        {
            for (int band = 0; band < _count; band++)
            {
                (double common, double powerCame, double powerPredicted) = Measure(band, came, predicted);
                _common[band] += common;
                _power[band] += 0.5 * (powerCame + powerPredicted);
            }
        }

        public double Evidence(ReadOnlySpan<double> came, ReadOnlySpan<double> predicted)
        {
            double evidence = 0;
            for (int band = 0; band < _count; band++)
            {
                double usual = _common[band] / (_power[band] + 1e-30);
                double usualPower = _power[band] / Instants;
                if (usual <= LeastUsual || usualPower <= 1e-9)
                {
                    continue;
                }

                (double common, double powerCame, double powerPredicted) = Measure(band, came, predicted);
                if (powerCame < MostLevelRatio * powerPredicted && powerPredicted < MostLevelRatio * powerCame && powerPredicted > LeastShare * usualPower)
                {
                    double c = common / (0.5 * (powerCame + powerPredicted));
                    evidence += (usual - 0.4) / 0.6 * ((Middle * usual) - c);
                }
            }

            return evidence;
        }

        private (double Common, double Came, double Predicted) Measure(int band, ReadOnlySpan<double> came, ReadOnlySpan<double> predicted)
        {
            double cr = InnerProduct.Of(_cosine[band], came[.._window]);
            double ci = InnerProduct.Of(_sine[band], came[.._window]);
            double pr = InnerProduct.Of(_cosine[band], predicted[.._window]);
            double pi = InnerProduct.Of(_sine[band], predicted[.._window]);
            return ((cr * pr) + (ci * pi), (cr * cr) + (ci * ci), (pr * pr) + (pi * pi));
        }
    }
}
