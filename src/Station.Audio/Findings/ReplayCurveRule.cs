using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>A replay curve that was left out, or applied twice.</summary>
/// <remarks>
/// Each of the three figures moves by one curve for a fault; where they lie for a good side differs from record to record. So their deviations are averaged, none may
/// contradict, and two at least are needed. Rumble and a worn surface move the low figure by themselves: it counts no more than
/// <see cref="MaxLow"/>, and not at all where one of them is beyond its limit; strong rumble reaches into the noise too, so the music must then agree plainly.
/// </remarks>
internal static class ReplayCurveRule
{
    // Expected for a side replayed through the curve once. Noise: between even velocity (1, by definition) and a real groove (0.5, measured on a recording of one).
    // The others: middle of the tuning sides.
    private const double Noise = 0.9;
    private const double Low = 1.2;
    private const double Music = 1.25;

    private const double MaxLow = 0.7;
    private const double LeastAgreement = 0.15;
    private const double PlainAgreement = 0.3;

    // Factor on the limit for two figures (own choice).
    private const double TwoFigures = 1.05;

    // A curve cut to other constants than these moves the music by itself, and noise alone must tell. Largest difference that counts as the same (own choice), dB.
    private const double SameCurveDb = 4;

    /// <summary>The finding; null when there is nothing to say.</summary>
    public static Finding? Judge(NoiseReading reading, InspectionLimits limits, SideExpectations expected)
    {
        if (reading.Curve is not { } evidence || expected.PlayedFlat is true)
        {
            return null;
        }

        bool rumbles = reading.RumbleDbfs >= limits.RumbleNoteDbfs;
        bool hisses = reading.NoiseFloorDba >= limits.SurfaceNoiseNoteDba;

        // Treble lost on the way steepens the noise's spectrum as a second curve would.
        bool fades = reading.Treble?.ChangeDb <= -limits.TrebleLossReviewDb;
        double? noise = fades && evidence.NoiseSlope > Noise ? null : evidence.NoiseSlope - Noise;
        double? low = evidence.LowSlope is double measured && !rumbles && !hisses ? Math.Clamp(measured - Low, -MaxLow, MaxLow) : null;
        double? music = IsUsualCut(expected) ? evidence.MusicSlope - Music : null;
        double[] figures = [.. new[] { noise, low, music }.OfType<double>()];

        // One alone proves nothing: low may be rumble or the lack of it, music may be thin or dull by itself.
        if (figures.Length < 2)
        {
            return null;
        }

        double deviation = figures.Average();
        bool missing = deviation < 0;
        double sign = missing ? -1 : 1;
        double needed = (missing ? limits.CurveMissingDeviation : limits.CurveDoubledDeviation)
            * (figures.Length == 3 ? 1 : TwoFigures);
        if (sign * deviation < needed
            || sign * (noise ?? sign) < LeastAgreement
            || sign * (music ?? (rumbles ? 0 : sign)) < (rumbles ? PlainAgreement : LeastAgreement))
        {
            return null;
        }

        string code = missing ? FindingCodes.EqualisationMissing : FindingCodes.EqualisationDoubled;
        return new Finding
        {
            Code = code,
            Severity = FindingCodes.DefaultSeverity[code],
            Measured = deviation,
            Limit = sign * needed,
            Unit = "replay curves",
            Message = missing
                ? string.Create(CultureInfo.InvariantCulture, $"Noise and music are as thin as without the replay curve ({deviation:+0.0;−0.0} curves off).")
                : string.Create(CultureInfo.InvariantCulture, $"Noise and music are as dull as with the replay curve twice ({deviation:+0.0;−0.0} curves off)."),
            Advice = missing
                ? "Check that the turntable goes through a phono stage and not a line input; if the capture is flat on purpose, write playedThrough: flat into the sheet."
                : "Check that only one phono stage is in the way: a built-in one behind another, or software that adds the curve once more.",
        };
    }

    private static bool IsUsualCut(SideExpectations expected)
    {
        if (expected.CurveMicroseconds.IsDefaultOrEmpty || expected.CurveMicroseconds.Length < 3)
        {
            return true;
        }

        return new[] { 50.0, 200, 5000, 10_000 }.All(hz =>
            Math.Abs(CutLevel(expected, hz) - CutLevel(expected, 1000) - ReplayCurveLevel.GainDb(hz)) <= SameCurveDb);
    }

    // Replay level of the sheet's own curve; a constant of 0 leaves its corner out. Without a bass shelf the rise goes on to 0 Hz.
    private static double CutLevel(SideExpectations expected, double hz)
    {
        double w = 2e-6 * Math.PI * hz;
        double shelf = w * expected.CurveMicroseconds[0];
        double turnover = w * expected.CurveMicroseconds[1];
        double treble = w * expected.CurveMicroseconds[2];
        double bass = turnover == 0 ? 1 : (1 + (turnover * turnover)) / (shelf == 0 ? w * w : 1 + (shelf * shelf));
        return 10 * Math.Log10(bass / (1 + (treble * treble)));
    }
}
