using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;
using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// <c>record.json</c> in a record's listening folder: whose folder it is, and every file the service put there. A file that isn't listed, or whose
/// SHA-256 isn't the listed one, is somebody else's.
/// </summary>
internal sealed record ListeningRecord
{
    public const string CurrentSchema = "station-listening-1";

    /// <summary>Bytes; a set of twenty-six sides of five hundred tracks in three formats stays below it.</summary>
    public const int MaxBytes = 16 * 1024 * 1024;

    public required string Schema { get; init; }

    /// <summary>The record's id.</summary>
    public required string Record { get; init; }

    /// <summary>Ordered by letter.</summary>
    public required ImmutableArray<ListedSide> Sides { get; init; }

    /// <summary>Files that were ours, have been superseded by a commit and are about to be removed; empty but for a moment.</summary>
    public required ImmutableArray<LeavingFile> Leaving { get; init; }

    public static ListeningRecord Claim(RecordId record) =>
        new() { Schema = CurrentSchema, Record = record.Value, Sides = [], Leaving = [] };

    /// <summary>As the sheet says; null when it doesn't, or there is none.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public string? Artist { get; init; }

    /// <inheritdoc cref="Artist"/>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public string? Title { get; init; }

    /// <summary>The letters of the sides the sheet names, blank ones left out; empty without a sheet.</summary>
    public ImmutableArray<string> SidesOnSheet { get; init; } = [];

    /// <summary>Every side the sheet names is here. False without a sheet: nobody knows.</summary>
    public bool Complete => !SidesOnSheet.IsEmpty && SidesOnSheet.All(letter => Sides.Any(s => s.Side == letter));

    /// <summary>Playlists and the sleeve's picture. A name stands here twice while its file is being replaced.</summary>
    public ImmutableArray<LeavingFile> Beside { get; init; } = [];

    public ListedSide? Side(SideLetter letter) => Sides.FirstOrDefault(s => s.Side == letter.ToString());

    /// <summary>UTF-8, indented, with a line feed at the end; the same content gives the same bytes.</summary>
    public byte[] ToBytes() => [.. JsonSerializer.SerializeToUtf8Bytes(this, ListeningJson.Default.ListeningRecord), (byte)'\n'];

    /// <summary>Reads and checks the file's content; the reason is one plain sentence when it can't be used.</summary>
    public static bool TryParse(
        ReadOnlySpan<byte> utf8, [NotNullWhen(true)] out ListeningRecord? record, [NotNullWhen(false)] out string? reason)
    {
        record = null;
        try
        {
            record = JsonSerializer.Deserialize(utf8, ListeningJson.Default.ListeningRecord);
        }
        catch (JsonException e)
        {
            reason = $"not a listening record (line {(e.LineNumber ?? 0) + 1}, byte {(e.BytePositionInLine ?? 0) + 1}: {e.Path})";
            return false;
        }

        reason = record is null ? "not a listening record" : record.Fault();
        if (reason is not null)
        {
            record = null;
            return false;
        }

        return record is not null;
    }

    // The names lead to removals: a damaged or forged file must not make the service touch anything outside this folder.
    private string? Fault()
    {
        if (Schema != CurrentSchema)
        {
            return $"its schema is {TextRules.Quote(Schema)}, expected {CurrentSchema}";
        }

        if (!RecordId.TryParse(Record, out _, out string? idFault))
        {
            return idFault;
        }

        if (Sides.IsDefault || Leaving.IsDefault || Beside.IsDefault || SidesOnSheet.IsDefault || Sides.Any(s => s.Tracks.IsDefault || s.Bags.IsDefault || s.Tracks.Any(t => t.Files.IsDefault)))
        {
            return "a list is missing";
        }

        if (Sides.Any(s => !SideLetter.TryParse(s.Side, out _)) || Sides.DistinctBy(s => s.Side).Count() != Sides.Length)
        {
            return "a side is no letter, or listed twice";
        }

        IEnumerable<string> names = Sides.SelectMany(s => s.Files()).Select(f => f.File).Concat(Leaving.Concat(Beside).Select(f => f.File));
        return names.FirstOrDefault(name => !SafeName.IsSafe(name) || SafeName.Key(name) == SafeName.Key(ListeningPaths.RecordFile)) is { } bad
            ? $"{TextRules.Quote(bad)} is no name of a listening copy"
            : null;
    }
}

/// <summary>One published side.</summary>
/// <param name="Side">A letter.</param>
/// <param name="Take">The take's number.</param>
/// <param name="Bags">The bags that hold its captures.</param>
/// <param name="Job">The job that published it: a job that finds its own id here has committed.</param>
/// <param name="Tracks">In order.</param>
internal sealed record ListedSide(string Side, int Take, ImmutableArray<string> Bags, string Job, ImmutableArray<ListedTrack> Tracks)
{
    public IEnumerable<ListedFile> Files() => Tracks.SelectMany(t => t.Files);
}

/// <param name="Number">On the side, from 1.</param>
/// <param name="Title">Null when the sheet has none.</param>
/// <param name="Files">One for each format.</param>
internal sealed record ListedTrack(int Number, string? Title, ImmutableArray<ListedFile> Files)
{
    /// <summary>What its files hold; null when a version published them that didn't note it.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public TrackSound? Sound { get; init; }
}

/// <param name="File">In the same folder.</param>
/// <param name="Sha256">64 lower-case hexadecimal digits.</param>
/// <param name="Bytes">Length.</param>
/// <param name="Format">Such as <c>flac</c>.</param>
internal sealed record ListedFile(string File, string Sha256, long Bytes, string Format)
{
    /// <summary>Name, version and settings; null when a version published it that didn't note it.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public string? Encoder { get; init; }
}

/// <inheritdoc cref="ListedFile"/>
internal sealed record LeavingFile(string File, string Sha256);

[JsonSourceGenerationOptions(
    WriteIndented = true,
    NewLine = "\n",
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase,
    UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
    RespectNullableAnnotations = true,
    RespectRequiredConstructorParameters = true)]
[JsonSerializable(typeof(ListeningRecord))]
internal sealed partial class ListeningJson : JsonSerializerContext;
