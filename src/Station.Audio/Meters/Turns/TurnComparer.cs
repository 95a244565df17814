using System.Runtime.Intrinsics;

namespace Station.Audio.Meters.Turns;

/// <summary>Lays a piece over the one a turn before and says what is left, by band.</summary>
/// <remarks>
/// <para>
/// Whatever the music does, two different stretches of groove never have the same noise: what differs between them is at least twice the noise. A stylus that plays
/// the same turn again hears the same noise again.
/// </para>
/// <para>
/// Between 600 Hz and 4.8 kHz, where rumble, arm and hum do not reach; both streams are differentiated once, so that the bass does not lead when they are aligned.
/// </para>
/// </remarks>
internal sealed class TurnComparer
{
    /// <summary>Pieces that can still be compared after newer ones were added.</summary>
    public const int PiecesBack = 7;

    // Borders of the bands, Hz (own choice: above rumble and hum, below what the decimation keeps; where there is still music and already noise).
    private static readonly double[] BordersHz = [600, 1_800, 3_200, TurnDecimator.PassHz];

    private const int FramesPerPiece = TurnSpectrum.Frames / 2;
    private const int Bands = TurnCells.Count / 2;

    // Powers are taken from frames a quarter as long, 17 ms: also where it crackles 25 times a second most of them lie between ticks.
    private const int ShortPerFrame = 4;
    private const int ShortPerPiece = FramesPerPiece * ShortPerFrame;

    // Of these, the sixth from below stands for the piece, in the bare groove as in music: ticks and jumps may spoil ten of sixteen, and of steady noise it tells as much as any (own choice).
    private const int Told = 5;

    private readonly TurnSpectrum _spectrum;
    private readonly TurnSpectrum _short;
    private readonly int _piece;
    private readonly int _search;
    private readonly double _rateHz;
    private readonly int _history;
    private readonly float[] _lateral;
    private readonly float[] _vertical;
    private readonly int[] _borders = new int[BordersHz.Length];
    private readonly int[] _shortBorders = new int[BordersHz.Length];
    private readonly int _bins;
    private readonly Vector256<double>[] _real;
    private readonly Vector256<double>[] _imaginary;
    private readonly float[] _lateralLeft;
    private readonly float[] _verticalLeft;
    private readonly double[] _delays = new double[FramesPerPiece];
    private readonly double[] _shortPowers = new double[TurnCells.Count * ShortPerPiece];
    private int _end;

    /// <param name="rateHz">Rate of the streams.</param>
    /// <param name="pieceSamples">Samples of a piece.</param>
    /// <param name="searchSamples">How far the proposed lag may be off, samples.</param>
    public TurnComparer(double rateHz, int pieceSamples, int searchSamples)
    {
        _rateHz = rateHz;
        _piece = pieceSamples;
        _search = searchSamples;
        _spectrum = new TurnSpectrum((int)System.Numerics.BitOperations.RoundUpToPowerOf2((uint)((pieceSamples / FramesPerPiece) + 1)) / 2);
        _short = new TurnSpectrum(_spectrum.Length / ShortPerFrame);
        for (int i = 0; i < _borders.Length; i++)
        {
            double hz = Math.Min(BordersHz[i], 0.44 * rateHz);
            _borders[i] = (int)Math.Round(hz * _spectrum.Length / rateHz);
            _shortBorders[i] = (int)Math.Round(hz * _short.Length / rateHz);
        }

        _bins = _borders[^1] - _borders[0];
        _lateralLeft = new float[FramesPerPiece * _spectrum.Length];
        _verticalLeft = new float[_lateralLeft.Length];
        _real = new Vector256<double>[_bins];
        _imaginary = new Vector256<double>[_bins];
        _history = (int)(TurnFamilies.LongestSeconds * rateHz) + (2 * searchSamples) + (PiecesBack * pieceSamples);
        _lateral = new float[2 * (_history + pieceSamples)];
        _vertical = new float[_lateral.Length];
        _end = _history;        // the capture begins after silence
    }

    /// <summary>Adds a piece.</summary>
    public void Add(ReadOnlySpan<float> lateral, ReadOnlySpan<float> vertical)
    {
        if (_end + _piece > _lateral.Length)
        {
            _lateral.AsSpan(_end - _history, _history).CopyTo(_lateral);
            _vertical.AsSpan(_end - _history, _history).CopyTo(_vertical);
            _end = _history;
        }

        lateral.CopyTo(_lateral.AsSpan(_end));
        vertical.CopyTo(_vertical.AsSpan(_end));
        _end += _piece;
    }

    /// <summary>Mean squares of the newest piece, by band, where no tick is.</summary>
    public TurnCells Powers() => Steady(_lateral.AsSpan(_end - _piece), _vertical.AsSpan(_end - _piece));

    /// <summary>Finds how a piece lies best over what was heard about one lag before.</summary>
    /// <param name="back">0 the newest piece, 1 the one before it, …, below <see cref="PiecesBack"/>.</param>
    /// <param name="lagSeconds">The proposed lag.</param>
    /// <param name="lag">The whole lag that fits best, samples.</param>
    /// <returns>Their correlation, 0 to 1.</returns>
    public float Align(int back, double lagSeconds, out int lag)
    {
        int start = _end - ((back + 1) * _piece);
        int proposed = (int)Math.Round(lagSeconds * _rateHz);
        ReadOnlySpan<float> lateral = _lateral.AsSpan(start, _piece);
        ReadOnlySpan<float> vertical = _vertical.AsSpan(start, _piece);

        // Tried on the middle of the piece, measured on the whole.
        int middle = start + (_piece / 4);
        int part = _piece / 2;
        ReadOnlySpan<float> lateralPart = _lateral.AsSpan(middle, part);
        ReadOnlySpan<float> verticalPart = _vertical.AsSpan(middle, part);
        float best = 0;
        lag = proposed;
        for (int tried = proposed - _search; tried <= proposed + _search; tried++)
        {
            float product = InnerProduct.Of(lateralPart, _lateral.AsSpan(middle - tried, part)) + InnerProduct.Of(verticalPart, _vertical.AsSpan(middle - tried, part));
            if (product > best)
            {
                best = product;
                lag = tried;
            }
        }

        // Where the middle holds little, the proposal itself may be the better one.
        float own = InnerProduct.Of(lateral, lateral) + InnerProduct.Of(vertical, vertical);
        float alike = Alike(start, lag, own);
        if (lag != proposed && Alike(start, proposed, own) is float other && other > alike)
        {
            alike = other;
            lag = proposed;
        }

        return alike;
    }

    private float Alike(int start, int lag, float own)
    {
        ReadOnlySpan<float> lateral = _lateral.AsSpan(start, _piece);
        ReadOnlySpan<float> vertical = _vertical.AsSpan(start, _piece);
        ReadOnlySpan<float> otherLateral = _lateral.AsSpan(start - lag, _piece);
        ReadOnlySpan<float> otherVertical = _vertical.AsSpan(start - lag, _piece);
        float other = InnerProduct.Of(otherLateral, otherLateral) + InnerProduct.Of(otherVertical, otherVertical);
        float product = InnerProduct.Of(lateral, otherLateral) + InnerProduct.Of(vertical, otherVertical);
        return product > 0 && own * other > 1e-30f ? product / MathF.Sqrt(own * other) : 0;
    }

    /// <summary>Compares a piece with what was heard one lag before.</summary>
    /// <param name="back">As for <see cref="Align"/>.</param>
    /// <param name="whole">The lag that fits best, samples.</param>
    /// <returns>
    /// The lag that fits, seconds; mean squares of the piece; and half the mean squares of what differs, both by band and as <see cref="Powers"/> tells them: where neither a tick nor a
    /// jump spoils it.
    /// </returns>
    public (double LagSeconds, TurnCells Powers, TurnCells Differences) Compare(int back, int whole)
    {
        int start = _end - ((back + 1) * _piece);
        for (int frame = 0; frame < FramesPerPiece; frame++)
        {
            int at = start + (frame * _spectrum.Length);
            _spectrum.Fill(frame, _lateral.AsSpan(at), _vertical.AsSpan(at));
            _spectrum.Fill(FramesPerPiece + frame, _lateral.AsSpan(at - whole), _vertical.AsSpan(at - whole));
        }

        _spectrum.Run();
        FindDelays();
        double sum = 0;
        foreach (double delay in _delays)
        {
            sum += delay;
        }

        Subtract(start, whole);
        TurnCells differences = Steady(_lateralLeft, _verticalLeft);
        for (int cell = 0; cell < TurnCells.Count; cell++)
        {
            differences[cell] /= 2;
        }

        return ((whole + (sum / FramesPerPiece)) / _rateHz, Steady(_lateral.AsSpan(start), _vertical.AsSpan(start)), differences);
    }

    // The delay in samples that turns the one spectrum into the other: the slope of the phase between them, by least squares (Gauss–Newton). Frame by frame: motors and belts
    // waver in their own time, not by the turn.
    private void FindDelays()
    {
        for (int i = 0; i < _bins; i++)
        {
            (_real[i], _imaginary[i]) = _spectrum.Products(_borders[0] + i);
        }

        double step = 2 * Math.PI / _spectrum.Length;
        Vector256<double> delays = Vector256<double>.Zero;
        for (int pass = 0; pass < 3; pass++)
        {
            // From bin to bin the phase of a delay turns on by the same angle.
            (Vector256<double> sin, Vector256<double> cos) = Turned(delays, _borders[0] * step);
            (Vector256<double> stepSin, Vector256<double> stepCos) = Turned(delays, step);
            Vector256<double> up = Vector256<double>.Zero;
            Vector256<double> down = Vector256.Create(1e-300);
            for (int i = 0; i < _bins; i++)
            {
                Vector256<double> omega = Vector256.Create(step * (_borders[0] + i));
                up -= omega * ((_imaginary[i] * cos) + (_real[i] * sin));
                down += omega * omega * Vector256.Abs((_real[i] * cos) - (_imaginary[i] * sin));
                (sin, cos) = ((sin * stepCos) + (cos * stepSin), (cos * stepCos) - (sin * stepSin));
            }

            delays = Vector256.Min(Vector256.Max(delays + (up / down), Vector256.Create(-1.0)), Vector256.Create(1.0));
        }

        delays.CopyTo(_delays);
    }

    private static (Vector256<double> Sin, Vector256<double> Cos) Turned(Vector256<double> delays, double omega)
    {
        Vector256<double> sin = default;
        Vector256<double> cos = default;
        for (int frame = 0; frame < FramesPerPiece; frame++)
        {
            (double s, double c) = Math.SinCos(omega * delays[frame]);
            sin = sin.WithElement(frame, s);
            cos = cos.WithElement(frame, c);
        }

        return (sin, cos);
    }

    // Takes from the piece what was heard before it. The delay goes straight from the middle of one frame to that of the next and on beyond the outer ones.
    private void Subtract(int start, int whole)
    {
        int length = _spectrum.Length;
        for (int i = 0; i < _lateralLeft.Length; i++)
        {
            double frame = ((i + 0.5) / length) - 0.5;
            int first = Math.Clamp((int)Math.Floor(frame), 0, FramesPerPiece - 2);
            double delay = _delays[first] + ((frame - first) * (_delays[first + 1] - _delays[first]));
            double place = start + i - whole - delay;
            (float lateral, float vertical) = TurnDelay.At(_lateral, _vertical, place);
            _lateralLeft[i] = _lateral[start + i] - lateral;
            _verticalLeft[i] = _vertical[start + i] - vertical;
        }
    }

    private TurnCells Steady(ReadOnlySpan<float> lateral, ReadOnlySpan<float> vertical)
    {
        for (int first = 0; first < ShortPerPiece; first += TurnSpectrum.Frames)
        {
            for (int frame = 0; frame < TurnSpectrum.Frames; frame++)
            {
                int at = (first + frame) * _short.Length;
                _short.Fill(frame, lateral[at..], vertical[at..]);
            }

            _short.Run();
            for (int band = 0; band < Bands; band++)
            {
                Vector256<float> lateralSum = Vector256<float>.Zero;
                Vector256<float> verticalSum = Vector256<float>.Zero;
                for (int bin = _shortBorders[band]; bin < _shortBorders[band + 1]; bin++)
                {
                    (Vector256<float> lateralPower, Vector256<float> verticalPower) = _short.Powers(bin);
                    lateralSum += lateralPower;
                    verticalSum += verticalPower;
                }

                Spread(lateralSum, band, first);
                Spread(verticalSum, Bands + band, first);
            }
        }

        TurnCells cells = default;
        for (int cell = 0; cell < TurnCells.Count; cell++)
        {
            Span<double> own = _shortPowers.AsSpan(cell * ShortPerPiece, ShortPerPiece);
            own.Sort();
            cells[cell] = (float)own[Told];
        }

        return cells;
    }

    private void Spread(Vector256<float> sums, int cell, int firstFrame)
    {
        for (int frame = 0; frame < TurnSpectrum.Frames; frame++)
        {
            _shortPowers[(cell * ShortPerPiece) + firstFrame + frame] = sums[frame] * _short.Scale;
        }
    }
}
