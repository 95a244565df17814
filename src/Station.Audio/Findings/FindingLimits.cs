using System.Collections.Frozen;
using System.Collections.Immutable;

namespace Station.Audio.Findings;

/// <summary>Which limits decide on which finding: names of <see cref="InspectionLimits"/>' properties. Every finding's severity can be set besides.</summary>
public static class FindingLimits
{
    /// <summary>The limits by finding code; empty for findings that are there or not, and for those of the files, of dividing and of joining, which have no limit here.</summary>
    public static IReadOnlyDictionary<string, ImmutableArray<string>> Keys { get; } = new Dictionary<string, ImmutableArray<string>>(StringComparer.Ordinal)
    {
        [FindingCodes.ClippedConverter] =
        [
            nameof(InspectionLimits.FewClipRuns), nameof(InspectionLimits.ShortClipRunMilliseconds), nameof(InspectionLimits.MusicNearClippingDbfs),
            nameof(InspectionLimits.QuietSurroundingsDbfs), nameof(InspectionLimits.NeedleSeconds),
        ],
        [FindingCodes.ClippedUpstream] =
            [nameof(InspectionLimits.FewestFlatTops), nameof(InspectionLimits.RetakeFlatTops), nameof(InspectionLimits.RetakeFlatTopSeconds)],
        [FindingCodes.Saturated] = [nameof(InspectionLimits.SaturationDb)],
        [FindingCodes.LevelHot] = [nameof(InspectionLimits.LeastHeadroomDb), nameof(InspectionLimits.TargetPeakDbfs)],
        [FindingCodes.LevelLow] = [nameof(InspectionLimits.LowestProgrammePeakDbfs), nameof(InspectionLimits.TargetPeakDbfs)],
        [FindingCodes.SamplesInvalid] = [],
        [FindingCodes.ChannelDead] = [nameof(InspectionLimits.DeadChannelNoiseDb), nameof(InspectionLimits.LeastNoiseSeconds)],
        [FindingCodes.ChannelWeak] = [nameof(InspectionLimits.WeakChannelDb), nameof(InspectionLimits.LeastNoiseSeconds)],
        [FindingCodes.PolarityReversed] = [nameof(InspectionLimits.ReversedBassCorrelation)],
        [FindingCodes.ChannelsIdentical] = [],
        [FindingCodes.ContactDropout] = [nameof(InspectionLimits.ContactDropDb), nameof(InspectionLimits.ContactDropBelowGrooveDb)],
        [FindingCodes.DepthPadded] = [],
        [FindingCodes.TopOctaveEmpty] = [nameof(InspectionLimits.LowestCutOffShare)],
        [FindingCodes.DcOffset] = [nameof(InspectionLimits.DcOffsetNote), nameof(InspectionLimits.DcOffsetReview)],
        [FindingCodes.MainsHum] = [nameof(InspectionLimits.HumNoteDbfs), nameof(InspectionLimits.HumReviewDbfs)],
        [FindingCodes.Rumble] = [nameof(InspectionLimits.RumbleNoteDbfs), nameof(InspectionLimits.RumbleReviewDbfs)],
        [FindingCodes.SurfaceNoise] = [nameof(InspectionLimits.SurfaceNoiseNoteDba), nameof(InspectionLimits.SurfaceNoiseReviewDba)],
        [FindingCodes.Crackle] = [nameof(InspectionLimits.TicksPerMinute)],
        [FindingCodes.SamplesLost] =
            [nameof(InspectionLimits.JointScore), nameof(InspectionLimits.JointEvidence), nameof(InspectionLimits.JointLoneEvidence)],
        [FindingCodes.GrooveRepeats] =
            [nameof(InspectionLimits.SameGrooveDb), nameof(InspectionLimits.RepeatedMusicDb), nameof(InspectionLimits.WholeSideShare)],
        [FindingCodes.GrooveSkips] =
        [
            nameof(InspectionLimits.SkipEvidenceDb), nameof(InspectionLimits.SkipContinuity),
        ],
        [FindingCodes.LockedGroove] =
            [nameof(InspectionLimits.SameGrooveDb), nameof(InspectionLimits.RepeatedMusicDb), nameof(InspectionLimits.WholeSideShare)],
        [FindingCodes.ScratchRadial] = [nameof(InspectionLimits.ScratchTicks)],
        [FindingCodes.SideChangeInside] = [],
        [FindingCodes.DeadAir] = [nameof(InspectionLimits.DeadAirSeconds)],
        [FindingCodes.SpeedOff] =
            [nameof(InspectionLimits.SpeedErrorPercent), nameof(InspectionLimits.SpeedErrorWithoutSheetPercent), nameof(InspectionLimits.LeastTurnConfidence)],
        [FindingCodes.Wow] = [nameof(InspectionLimits.WowPercent)],
        [FindingCodes.TrebleLoss] = [nameof(InspectionLimits.TrebleLossReviewDb)],
        [FindingCodes.EqualisationMissing] = [nameof(InspectionLimits.CurveMissingDeviation)],
        [FindingCodes.EqualisationDoubled] = [nameof(InspectionLimits.CurveDoubledDeviation)],
        [FindingCodes.BeginsLate] = [nameof(InspectionLimits.EdgeSeconds), nameof(InspectionLimits.EdgeMusicDb)],
        [FindingCodes.EndsEarly] =
        [
            nameof(InspectionLimits.EdgeSeconds), nameof(InspectionLimits.EdgeMusicDb), nameof(InspectionLimits.ShortSideShare),
            nameof(InspectionLimits.ShortLiftedSideShare), nameof(InspectionLimits.LeastMissingSeconds),
        ],
        [FindingCodes.TracksUnexpected] = [],
        [FindingCodes.DivisionUnsure] = [],
        [FindingCodes.TakeJoined] = [],
        [FindingCodes.TakeIncomplete] = [],
        [FindingCodes.FileDamaged] = [],
        [FindingCodes.FileTruncated] = [],
        [FindingCodes.KnownElsewhere] = [],
    }.ToFrozenDictionary(StringComparer.Ordinal);
}
