using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Says what the chain in front of the converter did to the wave, and what the file really carries.</summary>
internal static class ChainFindings
{
    // Lower by less than this is the same level. Own choice: half a decibel is what two plays of one side differ by.
    private const double LowerByDb = 0.5;

    /// <summary>The findings of one capture, in no particular order.</summary>
    public static IEnumerable<Finding> Of(
        SideReading reading, FlatTopJudgement flat, SaturationJudgement? saturation, InspectionLimits limits, SideExpectations expected)
    {
        if (flat.Severity is Severity severity)
        {
            yield return flat.AtConverter ? EarlyCeiling(reading, flat, severity) : Upstream(reading, flat, severity, expected);
        }

        if (saturation is not null)
        {
            yield return Saturated(reading, saturation, limits);
        }

        if (reading.EffectiveBits is int bits && bits < reading.BitsPerSample)
        {
            yield return Padded(reading, bits);
        }

        if (TopOctaveRule.CutOffHz(reading, limits) is double hz)
        {
            yield return TopEmpty(reading, hz, limits);
        }
    }

    private static Finding Upstream(SideReading reading, FlatTopJudgement flat, Severity severity, SideExpectations expected)
    {
        string where = flat.BothPolarities ? "tops and bottoms" : flat.Positive ? "tops" : "bottoms";
        string again = severity == Severity.Retake ? "play this side again" : "play this side again, or listen to the marked places and accept the take";
        bool notTheCure = expected.PreviousFlatTops == true && expected.PreviousPeakDbfs - reading.ProgrammePeakDbfs >= LowerByDb;
        string cure = "reduce the gain before the clipping (attenuator, gain of the phono stage, converter's input) and check supply or batteries";
        return new Finding
        {
            Code = FindingCodes.ClippedUpstream,
            Severity = severity,
            Channel = ChannelOf(reading, flat.Channels),
            Spans = SpansOf(reading, flat),
            Count = flat.Count,
            Measured = flat.CeilingDbfs,
            Limit = 0,
            Unit = "dBFS",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"Flat {where} at {flat.CeilingDbfs:0.0} dBFS, below full scale: the wave was cut before it reached the converter's own limit."),
            Advice = notTheCure
                ? $"The take before was higher and just as flat: this level control acts after the converter and isn't the cure. Leave it; {cure}, then {again}."
                : $"Do not change the level after the converter: {cure}, then {again}.",
        };
    }

    private static Finding EarlyCeiling(SideReading reading, FlatTopJudgement flat, Severity severity) => new()
    {
        Code = FindingCodes.ClippedConverter,
        Severity = severity,
        Channel = ChannelOf(reading, flat.Channels),
        Spans = SpansOf(reading, flat),
        Count = flat.Count,
        Measured = flat.CeilingDbfs,
        Limit = 0,
        Unit = "dBFS",
        Message = string.Create(
            CultureInfo.InvariantCulture, $"The converter was overdriven: it stops at {flat.CeilingDbfs:0.00} dBFS, short of its largest number, and the music runs into that."),
        Advice = severity == Severity.Retake
            ? "Lower the level at the converter's input by 6 dB and play this side again; if the tops stay flat, reduce the gain before it."
            : "Listen to the marked places and accept the take, or lower the level at the converter's input and play this side again.",
    };

    private static Finding Saturated(SideReading reading, SaturationJudgement saturation, InspectionLimits limits)
    {
        string side = saturation.Positive ? "upper" : "lower";
        double end = (double)reading.Frames / reading.SampleRateHz;
        ImmutableArray<SecondsSpan> spans =
        [
            .. Spans.Join(
                [.. saturation.Stretches.Select(stretch => (
                    (long)stretch * AmplitudeReading.SegmentSeconds * reading.SampleRateHz,
                    (long)(stretch + 1) * AmplitudeReading.SegmentSeconds * reading.SampleRateHz))],
                reading.SampleRateHz).Select(span => span with { EndSeconds = Math.Min(end, span.EndSeconds) }),
        ];
        return new Finding
        {
            Code = FindingCodes.Saturated,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.Saturated],
            Channel = reading.Channels == 1 ? null : FindingChannel.Both,
            Spans = spans,
            Measured = saturation.DriveDb,
            Limit = limits.SaturationDb,
            Unit = "dB",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The {side} half of the wave is rounded off: loud peaks come out {saturation.DriveDb:0.0} dB too low, soft ones do not."),
            Advice = "Reduce the gain before the converter (attenuator, gain of the phono stage), check supply or batteries, and play this side again; "
                + "where the record itself is known to be lopsided, accept the take.",
        };
    }

    private static Finding Padded(SideReading reading, int bits) => new()
    {
        Code = FindingCodes.DepthPadded,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.DepthPadded],
        Measured = bits,
        Limit = reading.BitsPerSample,
        Unit = "bits",
        Message = string.Create(CultureInfo.InvariantCulture, $"The file states {reading.BitsPerSample} bits; {bits} are in use, the rest are zeros."),
        Advice = "Nothing to do for this take: the archive keeps the file as it is. If the converter can do more, look into the recorder's and the driver's settings.",
    };

    private static Finding TopEmpty(SideReading reading, double hz, InspectionLimits limits) => new()
    {
        Code = FindingCodes.TopOctaveEmpty,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.TopOctaveEmpty],
        Measured = hz / 1000,
        Limit = limits.LowestCutOffShare * reading.SampleRateHz / 2000,
        Unit = "kHz",
        Message = string.Create(
            CultureInfo.InvariantCulture, $"The sound ends at about {hz / 1000:0.0} kHz as if cut off, noise and all: the file was converted from a lower rate or a lossy format."),
        Advice = "The archive keeps the file as it is. Set recorder and driver to the converter's own rate, without conversion, before the next side.",
    };

    private static FindingChannel? ChannelOf(SideReading reading, ImmutableArray<int> channels) => reading.Channels == 1
        ? null
        : channels.Length == 2 ? FindingChannel.Both : channels[0] == 0 ? FindingChannel.Left : FindingChannel.Right;

    private static ImmutableArray<SecondsSpan> SpansOf(SideReading reading, FlatTopJudgement flat) =>
        Spans.Join([.. flat.Places.Select(top => (top.FirstFrame, top.FirstFrame + top.Frames))], reading.SampleRateHz);
}
