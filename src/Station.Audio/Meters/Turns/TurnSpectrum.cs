using NAudio.Dsp;

namespace Station.Audio.Meters.Turns;

/// <summary>Spectra of frames of both motions in one transform: lateral as the real, vertical as the imaginary part.</summary>
internal sealed class TurnSpectrum
{
    private readonly int _log2;
    private readonly float[] _window;
    private readonly Complex[] _work;

    /// <param name="length">A power of two.</param>
    public TurnSpectrum(int length)
    {
        Length = length;
        _log2 = int.Log2(length);

        // This transform divides by its length, which the factor undoes.
        _window = [.. Enumerable.Range(0, length).Select(i => (float)(length * (0.5 - (0.5 * Math.Cos(2 * Math.PI * i / length)))))];

        // Bins of positive frequencies only, hence 2; a Hann window's mean square is 3/8.
        Scale = 2 / (0.375 * length * length);
        _work = new Complex[length];
    }

    /// <summary>Samples of a frame.</summary>
    public int Length { get; }

    /// <summary>What a sum of squared magnitudes of bins is multiplied by to be a mean square.</summary>
    public double Scale { get; }

    /// <summary>Transforms a frame.</summary>
    /// <param name="lateral"><see cref="Length"/> samples.</param>
    /// <param name="vertical">As many.</param>
    /// <param name="firstBin">First bin wanted, at least 1.</param>
    /// <param name="bins">Room for four numbers a bin: lateral real, imaginary, vertical real, imaginary.</param>
    public void Transform(ReadOnlySpan<float> lateral, ReadOnlySpan<float> vertical, int firstBin, Span<float> bins)
    {
        for (int i = 0; i < _work.Length; i++)
        {
            _work[i].X = lateral[i] * _window[i];
            _work[i].Y = vertical[i] * _window[i];
        }

        FastFourierTransform.FFT(true, _log2, _work);
        for (int i = 0; i < bins.Length / 4; i++)
        {
            Complex a = _work[firstBin + i];
            Complex b = _work[Length - firstBin - i];
            bins[4 * i] = (a.X + b.X) / 2;
            bins[(4 * i) + 1] = (a.Y - b.Y) / 2;
            bins[(4 * i) + 2] = (a.Y + b.Y) / 2;
            bins[(4 * i) + 3] = (b.X - a.X) / 2;
        }
    }
}
