namespace Station.Audio.Meters;

/// <summary>Whether the notes before an instant go on in phase behind it: by how much less than they do elsewhere in the same music.</summary>
/// <remarks>
/// The music is continued by a long linear predictor (Burg's method), and band by band the continuation is held against what came:
/// c = Re(A·P*) / ((|A|² + |P|²)/2), A what came, P what was predicted. How well each band can be predicted at all is measured at instants inside the one side, with the
/// same predictor; bands that cannot, and bands in which the level changes, say nothing. Not for two threads at once.
/// </remarks>
internal sealed class PhaseContinuity
{
    private const int Instants = 8;                         // that tell how well a band can be predicted
    private const double LeastUsual = 0.5;                  // bands whose usual c is less say nothing
    private const double MostLevelRatio = 6;                // of powers
    private const double LeastShare = 0.05;                 // of the band's usual power
    private const double NoPower = 1e-14;
    private const double Middle = 0.55;                     // of the usual c: half-way between going on and not
    private const double ShortWeight = 1.6;                 // short windows have fewer bands

    private readonly int _order;
    private readonly int _side;
    private readonly int _gap;
    private readonly int _apart;
    private readonly int _window;
    private readonly Bands _long;
    private readonly Bands _short;
    private readonly double[] _from;
    private readonly double[] _to;
    private readonly BurgPredictor _predictor;
    private readonly double[] _reversed;
    private readonly double[] _continued;

    /// <param name="rateHz">Samples per second.</param>
    /// <param name="shape">Lengths in samples.</param>
    /// <param name="highestHz">Highest band looked at.</param>
    public PhaseContinuity(double rateHz, in PhaseShape shape, double highestHz)
    {
        (_order, _side, _gap, _apart, _window) = (shape.Order, shape.Side, shape.Gap, shape.InstantsApart, shape.LongWindow);
        _long = new Bands(shape.LongWindow, rateHz, highestHz);
        _short = new Bands(shape.ShortWindow, rateHz, highestHz);
        _from = new double[_side];
        _to = new double[_window];
        _predictor = new BurgPredictor(_order, _side);
        _reversed = new double[_order];
        _continued = new double[_order + _gap + _window];
    }

    /// <summary>Samples before the gap, oldest first: to be filled in before <see cref="Break"/>, which changes them.</summary>
    public Span<double> Before => _from;

    /// <summary>Samples behind the gap: to be filled in likewise.</summary>
    public Span<double> Behind => _to;

    /// <summary>The evidence for a break: 0 says nothing, negative that the notes go on, 5 and more that many break off.</summary>
    public double Break()
    {
        double mean = 0;
        foreach (double value in _from)
        {
            mean += value;
        }

        mean /= _side;
        double power = 0;
        for (int i = 0; i < _side; i++)
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
        for (int i = 0; i < _order; i++)
        {
            _reversed[i] = _predictor.Coefficients[_order - i];
        }

        _long.Clear();
        _short.Clear();
        for (int i = 0; i < Instants; i++)
        {
            int end = _side - _gap - _window - (i * _apart);
            ReadOnlySpan<double> predicted = Continue(end);
            ReadOnlySpan<double> came = _from.AsSpan(end + _gap, _window);
            _long.AddUsual(came, predicted);
            _short.AddUsual(came, predicted);
        }

        ReadOnlySpan<double> beyond = Continue(_side);
        return _long.Evidence(_to, beyond) + (ShortWeight * _short.Evidence(_to, beyond));
    }

    // What follows the sample before end, behind the gap.
    private ReadOnlySpan<double> Continue(int end)
    {
        _from.AsSpan(end - _order, _order).CopyTo(_continued);
        for (int i = 0; i < _gap + _window; i++)
        {
            _continued[_order + i] = -InnerProduct.Of(_reversed, _continued.AsSpan(i, _order));
        }

        return _continued.AsSpan(_order + _gap);
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

        public Bands(int window, double rateHz, double highestHz)
        {
            _window = window;
            _count = (int)(highestHz * window / rateHz);
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

/// <summary>Lengths for <see cref="PhaseContinuity"/>, samples.</summary>
/// <param name="Order">Coefficients of the predictor.</param>
/// <param name="Side">Samples it is made from.</param>
/// <param name="Gap">Samples between what is before and what is behind.</param>
/// <param name="LongWindow">Compared, in narrow bands.</param>
/// <param name="ShortWindow">Compared, in wide bands, sooner after the gap.</param>
/// <param name="InstantsApart">Between the instants that tell what is usual.</param>
internal readonly record struct PhaseShape(int Order, int Side, int Gap, int LongWindow, int ShortWindow, int InstantsApart);
