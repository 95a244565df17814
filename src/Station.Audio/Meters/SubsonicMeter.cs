using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Mean square of each step in the subsonic band, per channel.</summary>
/// <remarks>
/// The samples are averaged over a sixteenth of a step (1.25 ms) and filtered at that rate of 800 Hz: one addition a sample instead of three
/// sections. Averaging lets through a twentieth of what lies near 800 Hz; such sound is there only while the stylus is in the
/// groove, where the band is full anyway.
/// </remarks>
internal sealed class SubsonicMeter
{
    private readonly LaneSections _sections;

    public SubsonicMeter(int sampleRateHz)
    {
        BiquadCoefficients[] sections = [.. SubsonicBand.Sections(StepPieces.RateHz(sampleRateHz, StepPieces.Coarse))];
        _sections = new LaneSections(1, sections, sections);
    }

    /// <summary>Mean squares of one step, left and right; the right one repeats the left for one channel.</summary>
    /// <param name="pieces">Its sums.</param>
    public (double Left, double Right) Add(StepPieces pieces)
    {
        Vector256<double> squares = Vector256<double>.Zero;
        int count = 0;
        for (int piece = 0; piece < StepPieces.Coarse; piece++)
        {
            (Vector128<double> sums, int frames) = pieces.CoarsePiece(piece);
            if (frames > 0)
            {
                Vector128<double> mean = sums / frames;
                Vector256<double> x = _sections.Next(0, Vector256.Create(mean, mean));
                squares += x * x;
                count++;
            }
        }

        _sections.DropNegligible();
        return (squares[0] / Math.Max(1, count), squares[1] / Math.Max(1, count));
    }
}
