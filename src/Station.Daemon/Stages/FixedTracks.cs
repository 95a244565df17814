using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Stages;

/// <summary>
/// Divides a side where a cue sheet says: what a person fixed is taken as it is, with confidence 1, and nothing that is heard moves it. Pure.
/// </summary>
/// <remarks>
/// A track runs from its INDEX 01 to the next track's INDEX 00, or, without one, to the next INDEX 01. A cue sheet doesn't say where the last track ends:
/// it ends with the music as an ordinary division finds it, and with the file when no music is found after its start.
/// </remarks>
internal static class FixedTracks
{
    /// <param name="side">One letter.</param>
    /// <param name="sheet">What the record's sheet says of the side: titles the cue sheet doesn't give.</param>
    /// <param name="heard">What the inspection heard of the disc: where the last track ends.</param>
    public static DivideResult Divide(LevelEnvelope envelope, string side, CueSheet cue, SideSheet? sheet, DivisionSettings settings, DiscHeard heard)
    {
        long total = envelope.TotalFrames;
        CueTrack[] inside = [.. cue.Tracks.Where(t => t.Start.ToFrame(envelope.SampleRateHz) < total)];
        ImmutableArray<DividedTrack>.Builder tracks = ImmutableArray.CreateBuilder<DividedTrack>(inside.Length);
        for (int i = 0; i < inside.Length; i++)
        {
            CueTrack track = inside[i];
            long start = track.Start.ToFrame(envelope.SampleRateHz);
            long end = track.Number < cue.Tracks.Length
                ? Math.Min(total, (cue.Tracks[track.Number].Gap ?? cue.Tracks[track.Number].Start).ToFrame(envelope.SampleRateHz))
                : EndOfMusic(envelope, start, settings, heard);
            tracks.Add(new DividedTrack(side, track.Number, Title(track, sheet, cue), start, end, 1));
        }

        var findings = ImmutableArray.CreateBuilder<Finding>();
        if (inside.Length < cue.Tracks.Length)
        {
            findings.Add(Beyond(envelope, [.. cue.Tracks.Skip(inside.Length)]));
        }

        if (sheet is { Tracks.Length: > 0 } && sheet.Tracks.Length != cue.Tracks.Length)
        {
            findings.Add(Counts(sheet.Tracks.Length, cue.Tracks.Length));
        }

        return new DivideResult(DivisionMethod.Cue, inside.Length == cue.Tracks.Length ? 1 : 0, tracks.ToImmutable(), findings.ToImmutable());
    }

    private static long EndOfMusic(LevelEnvelope envelope, long start, DivisionSettings settings, DiscHeard heard)
    {
        SideDivision found = SideDivider.Divide(envelope, settings, heard.Guide(null));
        return found.Tracks.LastOrDefault() is { } last && last.EndFrame > start ? last.EndFrame : envelope.TotalFrames;
    }

    private static string? Title(CueTrack track, SideSheet? sheet, CueSheet cue) =>
        (sheet?.Tracks.Length == cue.Tracks.Length ? sheet.Tracks[track.Number - 1].Title : null) ?? track.Title;

    private static Finding Beyond(LevelEnvelope envelope, ImmutableArray<CueTrack> beyond)
    {
        double length = (double)envelope.TotalFrames / envelope.SampleRateHz;
        string which = string.Join(", ", beyond.Take(10).Select(t => string.Create(CultureInfo.InvariantCulture, $"track {t.Number} at {t.Start}")));
        string more = beyond.Length > 10 ? string.Create(CultureInfo.InvariantCulture, $" and {beyond.Length - 10} more") : "";
        string ends = new CueTime((int)(length * CueTime.PartsPerSecond)).ToString();
        return new Finding
        {
            Code = FindingCodes.TracksUnexpected,
            Severity = Severity.Review,
            Count = beyond.Length,
            Measured = Math.Round(length, 3),
            Limit = Math.Round((double)beyond[0].Start.Parts / CueTime.PartsPerSecond, 3),
            Unit = "s",
            Message = $"The cue sheet has starts beyond the end of the capture at {ends}: {which}{more}.",
            Advice = "Check that the cue sheet is this side's; correct it and drop it again, or play the side again if its end is missing.",
        };
    }

    private static Finding Counts(int listed, int fixedStarts) => new()
    {
        Code = FindingCodes.TracksUnexpected,
        Severity = Severity.Note,           // the cue sheet is the person's answer to this question
        Count = fixedStarts,
        Measured = fixedStarts,
        Limit = listed,
        Unit = "tracks",
        Message = string.Create(CultureInfo.InvariantCulture, $"The sheet lists {listed} tracks; the cue sheet fixes {fixedStarts}, and those were cut."),
        Advice = "Make the sheet's list of tracks agree with the cue sheet, so that titles and tracks belong together.",
    };
}
