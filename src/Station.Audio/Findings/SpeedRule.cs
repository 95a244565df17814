using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges how fast the turntable turned; never the pitch of the recording.</summary>
public static class SpeedRule
{
    /// <summary>
    /// Speeds of discs without a sheet, rev/min: 33 1/3 and 45 (IEC 60098), 7200/92 and 6000/77 (78 on mains of 60 and of 50 Hz), 16 2/3.
    /// </summary>
    public static ImmutableArray<double> UsualRpm { get; } = [100.0 / 3, 45, 7200.0 / 92, 6000.0 / 77, 50.0 / 3];

    // Own choice: as far as speeds are off that people put up with.
    private const double HalfSpeedTolerance = 0.03;

    /// <summary>How much faster than meant the turntable turned, % (negative: slower); null when the turn is not known.</summary>
    /// <param name="revolution">The measured turn.</param>
    /// <param name="expected">What the sheet says.</param>
    public static double? ErrorPercent(RevolutionReading? revolution, SideExpectations expected)
    {
        ArgumentNullException.ThrowIfNull(expected);
        if (revolution is null)
        {
            return null;
        }

        // A faint pattern may be told by every second turn only: half of a speed that may be meant says nothing, unless it is one itself.
        double error = (revolution.Rpm / Meant(revolution.Rpm, expected)) - 1;
        bool half = Math.Abs(error) >= HalfSpeedTolerance
            && Accepted(expected).Any(speed => Math.Abs((2 * revolution.Rpm / speed) - 1) < HalfSpeedTolerance);
        return half ? null : 100 * error;
    }

    /// <summary>Says what there is to say.</summary>
    internal static void Add(List<Finding> findings, SideReading reading, InspectionLimits limits, SideExpectations expected)
    {
        if (reading.Disc.Revolution is not { } revolution || revolution.Confidence < limits.LeastTurnConfidence
            || ErrorPercent(revolution, expected) is not double error)
        {
            return;
        }

        bool told = expected.PlayedAtRpm is not null || !expected.NominalRpm.IsDefaultOrEmpty;
        double limit = told ? limits.SpeedErrorPercent : Math.Max(limits.SpeedErrorPercent, limits.SpeedErrorWithoutSheetPercent);
        if (Math.Abs(error) < limit)
        {
            return;
        }

        double meant = Meant(revolution.Rpm, expected);
        string fast = error > 0 ? "fast" : "slow";
        bool otherSpeed = UsualRpm.Any(rpm => Math.Abs(rpm - meant) > 1 && Math.Abs((revolution.Rpm / rpm) - 1) < 0.06);
        findings.Add(new Finding
        {
            Code = FindingCodes.SpeedOff,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.SpeedOff],
            Measured = error,
            Limit = error > 0 ? limit : -limit,
            Unit = "%",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The turntable turned at {revolution.Rpm:0.00} rev/min, {Math.Abs(error):0.0} % {fast} of {meant:0.##}."),
            Advice = !told
                ? string.Create(CultureInfo.InvariantCulture, $"Write the disc's speed into its sheet if it is not {meant:0.##}; otherwise set the turntable's speed by a strobe disc and play this side again.")
                : otherSpeed
                ? "Check the turntable's speed switch and play this side again; if it was meant, write playedAt into the sheet."
                : "Set the turntable's speed by a strobe disc, check belt and drive, and play this side again; if it was meant, write playedAt into the sheet.",
        });
    }

    // The accepted speed nearest to what was measured.
    private static double Meant(double rpm, SideExpectations expected) => Accepted(expected).MinBy(speed => Math.Abs(Math.Log(rpm / speed)));

    private static ImmutableArray<double> Accepted(SideExpectations expected) =>
        expected.PlayedAtRpm is double played ? [played] : expected.NominalRpm.IsDefaultOrEmpty ? UsualRpm : expected.NominalRpm;
}
