using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>A replay curve that was left out, or applied twice.</summary>
/// <remarks>
/// Two figures that know nothing of each other: the groove's own noise, and the music. Each moves by one curve for a fault; where it lies for a good side differs from
/// record to record by about 0.3 curves either way. So the mean of their deviations decides, and neither may be against it.
/// </remarks>
internal static class ReplayCurveRule
{
    // Expected for a side replayed through the curve once. A groove of even velocity gives 1 (by definition), a recording of a real one 0.7 from 200 Hz up, rumble adds to it: 0.6
    // to 1.65 with it and 0.4 to 1.6 without on tuning sides. Music: middle of the tuning sides.
    private const double Groove = 1.2;
    private const double Hiss = 1.05;
    private const double Music = 1.2;

    // Least deviation of each figure (own choice). Music may be dull by itself as far as a second curve makes it; noise is not.
    private const double LeastAgreement = 0.15;
    private const double LeastDullAgreement = 0.3;

    // Strong rumble may make the groove this much steeper than its hiss alone, curves (own choice).
    private const double RumbleShare = 0.2;

    // Rumble has overtones above 200 Hz as well: where it is strong, the music must be almost as dull as is told. Curves, own choice.
    private const double RumbleOverMusic = 0.1;

    // Where the music says nothing: factor on the limit (own choice).
    private const double NoiseAlone = 1.7;

    // A curve cut to other constants than these moves the music by itself, and noise alone must tell. Largest difference that counts as the same (own choice), dB.
    private const double SameCurveDb = 4;

    /// <summary>The finding; null when there is nothing to say.</summary>
    public static Finding? Judge(NoiseReading reading, InspectionLimits limits, SideExpectations expected)
    {
        if (reading.Curve is not { } evidence || expected.PlayedFlat is true)
        {
            return null;
        }

        // Treble lost on the way steepens the noise's spectrum as a second curve would.
        bool fades = reading.Treble?.ChangeDb <= -limits.TrebleLossReviewDb;
        double? music = IsUsualCut(expected) ? evidence.MusicSlope - Music : null;
        (double? groove, double? least) = GrooveDeviations(reading, evidence, limits);
        double? thin = Deviation(groove, music, LeastAgreement);
        double? dull = fades ? null : Deviation(Larger(groove, least), music, LeastDullAgreement);
        if (reading.RumbleDbfs >= limits.RumbleNoteDbfs)
        {
            dull = Smaller(dull, music + RumbleOverMusic);
        }

        double share = music is null ? NoiseAlone : 1;
        bool missing = thin <= -share * limits.CurveMissingDeviation;
        if (!missing && !(dull >= share * limits.CurveDoubledDeviation))
        {
            return null;
        }

        double deviation = (missing ? thin : dull) ?? 0;
        double needed = share * (missing ? limits.CurveMissingDeviation : limits.CurveDoubledDeviation);
        string code = missing ? FindingCodes.EqualisationMissing : FindingCodes.EqualisationDoubled;
        return new Finding
        {
            Code = code,
            Severity = FindingCodes.DefaultSeverity[code],
            Measured = deviation,
            Limit = missing ? -needed : needed,
            Unit = "replay curves",
            Message = missing
                ? string.Create(CultureInfo.InvariantCulture, $"Noise and music are as thin as without the replay curve ({deviation:+0.0;−0.0} curves off).")
                : string.Create(CultureInfo.InvariantCulture, $"Noise and music are as dull as with the replay curve twice ({deviation:+0.0;−0.0} curves off)."),
            Advice = missing
                ? "Check that the turntable goes through a phono stage and not a line input; if the capture is flat on purpose, write playedThrough: flat into the sheet."
                : "Check that only one phono stage is in the way: a built-in one behind another, or software that adds the curve once more.",
        };
    }

    // Strong rumble, a fault of its own, steepens the spectrum of any groove, and strong hiss flattens it: then what lies above 200 Hz must bear the deviation out.
    private static (double? Heard, double? Least) GrooveDeviations(NoiseReading reading, CurveEvidence evidence, InspectionLimits limits)
    {
        double? hiss = evidence.HissSlope - Hiss;
        double? leastHiss = evidence.LeastHissSlope - Hiss;
        if (evidence is { GrooveSlope: null, LeastGrooveSlope: null })
        {
            return (hiss, leastHiss);
        }

        double? groove = evidence.GrooveSlope - Groove;
        double? least = evidence.LeastGrooveSlope - Groove;
        if (reading.RumbleDbfs >= limits.RumbleNoteDbfs)
        {
            double? most = Larger(hiss, leastHiss) + RumbleShare;
            (groove, least) = (Smaller(groove, most), Smaller(least, most));
        }

        return (reading.NoiseFloorDba >= limits.SurfaceNoiseNoteDba ? Larger(groove, hiss) : groove, least);
    }

    // Mean of both, 0 where they do not agree; without music the noise's; music alone proves nothing, for it may be thin or dull by itself.
    private static double? Deviation(double? noise, double? music, double least) =>
        noise is not double n ? null
        : music is not double m ? n
        : Math.Sign(n) == Math.Sign(m) && Math.Min(Math.Abs(n), Math.Abs(m)) >= least ? (n + m) / 2 : 0;

    private static double? Larger(double? one, double? other) => one is double a && other is double b ? Math.Max(a, b) : one ?? other;

    private static double? Smaller(double? one, double? other) => one is double a && other is double b ? Math.Min(a, b) : one;

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
