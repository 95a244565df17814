using System.Collections.Immutable;

namespace Station.Daemon.Records;

/// <summary>Where the tracks of one side begin, as the operator fixed it.</summary>
/// <param name="Tracks">At least one, in order, starts rising.</param>
internal sealed record CueSheet(ImmutableArray<CueTrack> Tracks);

/// <param name="Number">From 1, without holes.</param>
/// <param name="Title">Null when not given.</param>
/// <param name="Performer">Null when not given.</param>
/// <param name="Gap">INDEX 00: where the track before ends; null when that is where this one starts.</param>
/// <param name="Start">INDEX 01.</param>
internal sealed record CueTrack(int Number, string? Title, string? Performer, CueTime? Gap, CueTime Start);

/// <summary>A cue sheet, or everything that is wrong with it.</summary>
internal sealed record CueResult(string FileName, CueSheet? Sheet, ImmutableArray<SheetError> Errors)
{
    /// <summary>Where each track's start stands, for what is found out about it later; messages are empty. Empty when the sheet wasn't read.</summary>
    public ImmutableArray<SheetError> StartPlaces { get; init; } = [];

    /// <summary>One line for each error: <c>HL-0031-A.cue:7:3: …</c></summary>
    public IEnumerable<string> Lines() => Errors.Select(e => e.In(FileName));
}
