using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Treble that goes away through the side.</summary>
internal static class TrebleLossRule
{
    // With two stretches nothing tells a trend from one odd stretch: then the loss must be this many times the limit (own choice).
    private const double TwoStretches = 1.5;

    // A loss that is not at least this many times the scatter about its line is no trend (own choice). A loss that grows ever faster, in dB, lies off a straight line by up to a ninth of
    // itself (computed for four places and one that goes with the square of time).
    private const double Scatters = 4;

    /// <summary>The finding; null when there is nothing to say.</summary>
    public static Finding? Judge(TrebleTrend? trend, InspectionLimits limits)
    {
        if (trend is null)
        {
            return null;
        }

        double loss = -trend.ChangeDb;
        if (loss < limits.TrebleLossReviewDb * (trend.Stretches > 2 ? 1 : TwoStretches) || loss < Scatters * trend.ScatterDb)
        {
            return null;
        }

        return new Finding
        {
            Code = FindingCodes.TrebleLoss,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.TrebleLoss],
            Measured = loss,
            Limit = limits.TrebleLossReviewDb,
            Unit = "dB",
            Message = string.Create(CultureInfo.InvariantCulture, $"The groove noise loses {loss:0.0} dB above 5.6 kHz from landing to lift."),
            Advice = "Look at the stylus: brush fluff off it from back to front, clean the record, and play the side again.",
        };
    }
}
