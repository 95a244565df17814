using System.Globalization;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status;

/// <summary>Every English word the pages and the problem documents say, in one place.</summary>
internal static class PageText
{
    // Problems.
    public const string WrongHost = "The request names a host this station does not answer for. Names other than localhost are listed under Status.HostNames.";
    public const string ForeignPage = "The request was sent by another site's page.";
    public const string NoTokenConfigured =
        "Decisions over the network need a token, and none is configured: set Status.TokenFile or Status.TokenEnvironment, or use the stationd command on the station's own machine.";
    public const string WrongToken = "Decisions over the network need the header 'Authorization: Bearer' with the station's token.";
    public const string UnknownState = "There is no such state; there are";
    public const string WrongLimit = "limit is a number from 1 to 500.";
    public const string NoSuchJob = "There is no such job or capture.";
    public const string NoSuchRecord = "There is no such record.";
    public const string NoReportYet = "This job has no report yet: one is written when it is held or ends.";
    public const string NoPictureYet = "This job has no picture: one is drawn when the side was measured.";
    public const string WhyIsNeeded = "Say why: the reason is kept with the take. Send {\"why\": \"…\"}.";
    public const string AsIsNeeded = "Say what the capture is: send {\"as\": \"HL-0032-B\"}.";
    public const string NoSuchSide = "A side is one letter A to Z.";
    public const string CutsAreNeeded =
        "Send a cue sheet as text/plain or application/x-cue, or {\"starts\": [\"mm:ss:ff\" or seconds, …]} as application/json.";
    public const string CutsTooLong = "A cue sheet has at most 262144 bytes.";
    public const string WhyIsTooLong = "why has at most 1000 characters.";

    // Frame.
    public const string StationLog = "Station log";
    public const string Log = "Log";
    public const string Shelf = "Shelf";
    public const string SkipToContent = "Skip to the entries";
    public const string Free = "Free";
    public const string Updates = "This page looks again every 15 seconds.";
    public const string Earlier = "Earlier";
    public const string MoreRecords = "More records";
    public const string NotFoundTitle = "Not in this log";
    public const string NotFound = "There is no entry under this name.";

    // The log.
    public const string NeedsYou = "Needs you";
    public const string NothingNeedsYou = "Nothing. Every side that was captured is kept or being worked on.";
    public const string InHand = "In hand";
    public const string NothingInHand = "Nothing is being worked on. Drop captures into the inbox.";
    public const string Lately = "Lately";
    public const string NothingLately = "No capture is finished yet.";
    public const string Undelivered = "News that reached nobody";
    public const string EmptyShelf = "No record is known yet. Drop a capture or a record sheet into the inbox.";
    public const string PictureMissing = "The picture of this side is missing.";
    public const string DropAgain = "Then drop the new capture into the inbox as";
    public const string OrDropAgain = "Or play the side again and drop the new capture into the inbox as";
    public const string ToKeepIt = "Keep it as it is";
    public const string ToDropIt = "Throw it away";
    public const string ToTryAgain = "Try it again";
    public const string WhyPlaceholder = "…";

    // A capture.
    public const string Findings = "Findings";
    public const string NoFindings = "None: the side is as it should be.";
    public const string NotMeasured = "The file was not measured.";
    public const string Tracks = "Tracks";
    public const string Measures = "Measures";
    public const string Files = "Files";
    public const string Steps = "Steps";
    public const string Archive = "Archive";
    public const string NotArchived = "Not in the archive.";
    public const string ReportLink = "The whole report (JSON)";
    public const string Left = "Left";
    public const string Right = "Right";
    public const string WholeSide = "whole side";
    public const string Received = "Received";
    public const string AcceptedBecause = "Accepted:";
    public const string Bit = "bit";
    public const string ColumnNumber = "No.";
    public const string ColumnTitle = "Title";
    public const string ColumnFrom = "From";
    public const string ColumnTo = "To";
    public const string ColumnLength = "Length";
    public const string ColumnSure = "Sure";
    public const string HighestSample = "Highest sample";
    public const string TruePeak = "True peak";
    public const string Rms = "RMS";
    public const string CrestFactor = "Crest factor";
    public const string NoiseFloor = "Noise floor";
    public const string Offset = "Offset";
    public const string PercentOfFullScale = "% of full scale";
    public const string ProgrammePeak = "Programme peak, ticks left out";
    public const string Loudness = "Loudness";
    public const string LoudnessRange = "Loudness range";
    public const string Balance = "Balance, left over right";
    public const string Correlation = "Correlation";
    public const string Ticks = "Ticks a minute";
    public const string Turns = "Turns a minute";
    public const string Rumble = "Rumble";
    public const string ReadBack = "read back and matched";
    public const string Copies = "Copies";
    public const string OldestReading = "oldest reading";
    public const string LastAudit = "Last audit asked for:";
    public const string AuditRunning = "under way";
    public const string AuditFinished = "finished";
    public const string NoSuchAudit = "There is no such audit.";
    public const string NoSuchPlace = "There is no such place; there are";
    public const string Digest = "SHA-256 of the dropped file:";

    public static string CopyWord(BagCopyState state) => state switch
    {
        BagCopyState.Verified => "every byte read and right",
        BagCopyState.Behind => "still to be copied",
        _ => "damaged",
    };

    public static string PlaceCounts(int verified, int behind, int damaged) => string.Create(
        CultureInfo.InvariantCulture, $"{verified} right{(behind > 0 ? $", {behind} still to be copied" : "")}{(damaged > 0 ? $", {damaged} damaged" : "")}");

    public static string AuditCounts(int read, int damaged, int mended) => string.Create(
        CultureInfo.InvariantCulture, $"{read} copies read, {damaged} damaged, {mended} of them mended");

    public static string Title(string station, string page) => $"{page} – {station}";

    public static string PictureAlt(string label) => $"Level of {label} over time, with its tracks and findings; the text beside it says the same in words.";

    public static string AndMorePlaces(int count) => count == 1 ? "and one more place" : string.Create(CultureInfo.InvariantCulture, $"and {count} more places");

    public static string Summary(int needs, int running, int queued, int done) => string.Create(
        CultureInfo.InvariantCulture,
        $"{Sides(needs, "needs you", "need you")}; {(running + queued == 0 ? "none in hand" : $"{running + queued} in hand")}; {done} kept.");

    private static string Sides(int count, string one, string many) => count switch
    {
        0 => "No capture " + one,
        1 => "One capture " + one,
        _ => string.Create(CultureInfo.InvariantCulture, $"{count} captures {many}"),
    };

    public static string SideOf(string record, string sides) => sides.Length == 1 ? $"{record} side {sides}" : $"{record} sides {string.Join(", ", sides.ToCharArray())}";

    public static string TakeNumber(int number) => string.Create(CultureInfo.InvariantCulture, $"take {number}");

    public static string SideHeading(string side) => $"Side {side}";

    public static string TakeHeading(int number, TakeState state) => string.Create(CultureInfo.InvariantCulture, $"Take {number}: {TakeWord(state)}.");

    private static string TakeWord(TakeState state) => state switch
    {
        TakeState.Pending => "open",
        TakeState.Accepted => "in force",
        TakeState.Superseded => "superseded",
        TakeState.Discarded => "thrown away",
        _ => "came to nothing",
    };

    /// <summary>The word on a job's stamp.</summary>
    public static string Stamp(JobState state, Verdict? verdict) => (state, verdict) switch
    {
        (JobState.Held, Verdict.Retake) => "Play again",
        (JobState.Held, _) => "Please decide",
        (JobState.Failed, _) => "Set aside",
        (JobState.Queued, _) => "Waits",
        (JobState.Running, _) => "At work",
        (JobState.Done, _) => "Kept",
        (JobState.Duplicate, _) => "Nothing new",
        (JobState.Refused, _) => "Refused",
        (JobState.Discarded, _) => "Thrown away",
        (JobState.Superseded, _) => "Superseded",
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    public static string SeverityWord(Severity severity) => severity switch
    {
        Severity.Retake => "Play again",
        Severity.Review => "Decide",
        _ => "Note",
    };

    public static string ChannelWord(FindingChannel? channel) => channel switch
    {
        FindingChannel.Left => "left",
        FindingChannel.Right => "right",
        FindingChannel.Both => "both channels",
        _ => "",
    };

    public static string StandingWord(SideStanding standing) => standing switch
    {
        SideStanding.Kept => "kept",
        SideStanding.KeptNewerOpen => "kept, newer open",
        SideStanding.Open => "open",
        SideStanding.ToPlay => "to play",
        SideStanding.Blank => "blank",
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    public static string StageWord(string stage) => stage switch
    {
        StageNames.Intake => "Taken in",
        StageNames.Inspect => "Measured",
        StageNames.Divide => "Divided into tracks",
        StageNames.Archive => "Archived and read back",
        StageNames.Encode => "Listening copies made",
        StageNames.Publish => "Listening copies put in place",
        _ => stage,
    };

    public static string NextStageWord(string stage) => stage switch
    {
        StageNames.Inspect => "is being measured",
        StageNames.Divide => "is being divided into tracks",
        StageNames.Archive => "is being archived and read back",
        StageNames.Encode => "gets its listening copies",
        StageNames.Publish => "has its listening copies put in place",
        _ => "is being finished",
    };

    public static string OutcomeWord(StageOutcomeKind outcome) => outcome switch
    {
        StageOutcomeKind.Done => "done",
        StageOutcomeKind.Retry => "to be tried again",
        StageOutcomeKind.Duplicate => "nothing new",
        _ => "failed",
    };

    public static string WaitsUntil(string time, string? reason) => reason is null ? $"waits until {time}" : $"waits until {time}: {reason}";

    public static string WaitsForTurn => "waits for its turn";

    public static string ChannelsWord(int channels) => channels == 1 ? "mono" : "stereo";

    public static string NextLevel(string changeDb, string target) => $"Recording level for the next take: {changeDb} dB, to peak at {target}.";

    public static string Divided(DivisionMethod method, string sure) => $"Divided {DivisionMethodWord(method)}, {sure} sure.";

    private static string DivisionMethodWord(DivisionMethod method) => method switch
    {
        DivisionMethod.Gaps => "by the gaps heard",
        DivisionMethod.Sheet => "by the sheet's lengths",
        DivisionMethod.Cue => "by a cue sheet",
        _ => "as one piece",
    };

    /// <summary>What the command line says after a decision.</summary>
    public static string Decided(string capture, JobState state) => state switch
    {
        JobState.Queued or JobState.Running => $"{capture}: accepted for work, it goes on now.",
        JobState.Discarded => $"{capture}: thrown away; its files stay in held/discarded/ for a while.",
        _ => $"{capture}: {Stamp(state, null)}.",
    };

    /// <summary>What the command line says when a capture was filed under another name.</summary>
    public static string Identified(string capture, string filedAs) => $"{capture}: filed as {filedAs}; it goes on from there.";

    /// <param name="tracks">How many were fixed; null when the person's cuts were taken back.</param>
    public static string CutsSaid(string capture, int? tracks, JobState state)
    {
        string what = tracks is { } count
            ? $"{capture}: {count.ToString(System.Globalization.CultureInfo.InvariantCulture)} {(count == 1 ? "track" : "tracks")} fixed"
            : $"{capture}: divided by the service again";
        return state switch
        {
            JobState.Queued or JobState.Running => $"{what}; it is cut from the master now.",
            JobState.Held => $"{what}; it waits for your decision as before, and is cut so when you accept it.",
            _ => $"{what}; it was cut so already.",
        };
    }

    /// <summary>As <see cref="CutsSaid"/>, where no service runs.</summary>
    public static string CutsSaidLater(string capture, int? tracks, JobState state) =>
        CutsSaid(capture, tracks, state).Replace("it is cut from the master now.", "it is cut from the master when the service runs.", StringComparison.Ordinal);

    public static string FileToDrop(string record, string sides) => $"{record}-{sides}.wav";
}
