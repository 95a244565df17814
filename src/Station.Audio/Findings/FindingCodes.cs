using System.Collections.Frozen;

namespace Station.Audio.Findings;

/// <summary>Every finding's code and the severity it has unless the configuration says otherwise.</summary>
public static class FindingCodes
{
    public const string ClippedConverter = "clipped-converter";
    public const string ClippedUpstream = "clipped-upstream";
    public const string Saturated = "saturated";
    public const string LevelHot = "level-hot";
    public const string LevelLow = "level-low";
    public const string SamplesInvalid = "samples-invalid";
    public const string ChannelDead = "channel-dead";
    public const string ChannelWeak = "channel-weak";
    public const string PolarityReversed = "polarity-reversed";
    public const string ChannelsIdentical = "channels-identical";
    public const string ContactDropout = "contact-dropout";
    public const string DepthPadded = "depth-padded";
    public const string TopOctaveEmpty = "top-octave-empty";
    public const string DcOffset = "dc-offset";
    public const string MainsHum = "mains-hum";
    public const string Rumble = "rumble";
    public const string SurfaceNoise = "surface-noise";
    public const string Crackle = "crackle";
    public const string SamplesLost = "samples-lost";
    public const string GrooveRepeats = "groove-repeats";
    public const string GrooveSkips = "groove-skips";
    public const string LockedGroove = "locked-groove";
    public const string ScratchRadial = "scratch-radial";
    public const string SideChangeInside = "side-change-inside";
    public const string DeadAir = "dead-air";
    public const string SpeedOff = "speed-off";
    public const string Wow = "wow";
    public const string TrebleLoss = "treble-loss";
    public const string EqualisationMissing = "equalisation-missing";
    public const string EqualisationDoubled = "equalisation-doubled";
    public const string BeginsLate = "begins-late";
    public const string EndsEarly = "ends-early";
    public const string TracksUnexpected = "tracks-unexpected";
    public const string DivisionUnsure = "division-unsure";
    public const string TakeJoined = "take-joined";
    public const string TakeIncomplete = "take-incomplete";
    public const string FileDamaged = "file-damaged";
    public const string FileTruncated = "file-truncated";
    public const string KnownElsewhere = "known-elsewhere";

    /// <summary>
    /// The severity of each code's plain case. Where a code has two (a level slightly or far beyond its limit), this is the milder one,
    /// except for clipping, whose plain case is a retake.
    /// </summary>
    public static IReadOnlyDictionary<string, Severity> DefaultSeverity { get; } = new Dictionary<string, Severity>(StringComparer.Ordinal)
    {
        [ClippedConverter] = Severity.Retake,
        [ClippedUpstream] = Severity.Retake,
        [Saturated] = Severity.Review,
        [LevelHot] = Severity.Note,
        [LevelLow] = Severity.Review,
        [SamplesInvalid] = Severity.Review,
        [ChannelDead] = Severity.Retake,
        [ChannelWeak] = Severity.Review,
        [PolarityReversed] = Severity.Review,
        [ChannelsIdentical] = Severity.Note,
        [ContactDropout] = Severity.Review,
        [DepthPadded] = Severity.Note,
        [TopOctaveEmpty] = Severity.Note,
        [DcOffset] = Severity.Note,
        [MainsHum] = Severity.Note,
        [Rumble] = Severity.Note,
        [SurfaceNoise] = Severity.Note,
        [Crackle] = Severity.Note,
        [SamplesLost] = Severity.Retake,
        [GrooveRepeats] = Severity.Retake,
        [GrooveSkips] = Severity.Review,
        [LockedGroove] = Severity.Note,
        [ScratchRadial] = Severity.Note,
        [SideChangeInside] = Severity.Review,
        [DeadAir] = Severity.Note,
        [SpeedOff] = Severity.Review,
        [Wow] = Severity.Note,
        [TrebleLoss] = Severity.Review,
        [EqualisationMissing] = Severity.Review,
        [EqualisationDoubled] = Severity.Review,
        [BeginsLate] = Severity.Retake,
        [EndsEarly] = Severity.Review,
        [TracksUnexpected] = Severity.Review,
        [DivisionUnsure] = Severity.Review,
        [TakeJoined] = Severity.Note,
        [TakeIncomplete] = Severity.Review,
        [FileDamaged] = Severity.Note,
        [FileTruncated] = Severity.Review,
        [KnownElsewhere] = Severity.Review,
    }.ToFrozenDictionary(StringComparer.Ordinal);
}
