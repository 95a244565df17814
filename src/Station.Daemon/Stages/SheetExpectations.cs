using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Daemon.Records;

namespace Station.Daemon.Stages;

/// <summary>What a record sheet lets one expect of a capture before it is heard. Pure.</summary>
internal static class SheetExpectations
{
    /// <param name="sheet">Null: nothing is known.</param>
    /// <param name="sides">The capture's sides. What several sides don't share is unknown for the capture.</param>
    /// <param name="part">A part of a side holds some of its tracks only.</param>
    public static SideExpectations Of(RecordSheet? sheet, string sides, int? part)
    {
        SideExpectations known = part is null ? SideExpectations.None : SideExpectations.None with { BeginsInside = part > 1, GoesOn = true };
        if (sheet is null)
        {
            return known;
        }

        SideLetter[] letters = [.. sides.Select(SideLetter.Of)];
        SideSheet?[] all = [.. letters.Select(sheet.Side)];
        TrackSheet[] tracks = part is null && all.All(side => side is { Tracks.Length: > 0 }) ? [.. all.SelectMany(side => side!.Tracks)] : [];
        return known with
        {
            NominalRpm = Shared(letters.Select(letter => sheet.SpeedOf(letter)?.AcceptedRpm ?? [])),
            PlayedAtRpm = sheet.PlayedAt?.Rpm,
            Mono = all.Select(side => side?.Mono).Distinct().Count() == 1 ? all[0]?.Mono : null,
            TrackCount = tracks.Length > 0 ? tracks.Length : null,
            MusicSeconds = tracks.Length > 0 && tracks.All(track => track.LengthSeconds.HasValue) ? tracks.Sum(track => track.LengthSeconds!.Value) : null,
            TrackSeconds = tracks.All(track => track.LengthSeconds.HasValue) ? [.. tracks.Select(track => (double)track.LengthSeconds!.Value)] : [],
            CurveMicroseconds = Shared(letters.Select(letter => sheet.CurveOf(letter)?.TimeConstantsMicroseconds ?? [])),
            PlayedFlat = sheet.PlayedThrough is { } through ? through.TimeConstantsMicroseconds.IsEmpty : null,
        };
    }

    private static ImmutableArray<double> Shared(IEnumerable<ImmutableArray<double>> values)
    {
        ImmutableArray<double>[] all = [.. values];
        return all.All(value => value.SequenceEqual(all[0])) ? all[0] : [];
    }
}
