namespace Station.Daemon.Jobs;

/// <summary>One dropped audio file as the store knows it. Which sides' takes it holds is said by <see cref="TakeSpan"/>s.</summary>
internal sealed record Capture
{
    public required CaptureId Id { get; init; }

    /// <summary>The name it was dropped under.</summary>
    public required string FileName { get; init; }

    /// <summary>The record it is filed under.</summary>
    public required string RecordId { get; init; }

    /// <summary>The sides it is filed under, letters in the order of the file: <c>A</c>, <c>AB</c>.</summary>
    public required string Sides { get; init; }

    /// <summary>The record in its label, where a person filed an archived capture under another one; null otherwise.</summary>
    public string? NamedRecordId { get; init; }

    /// <summary>The sides in its label, in the same case.</summary>
    public string? NamedSides { get; init; }

    /// <summary>2 and up for a later part of a take whose recorder stopped and went on.</summary>
    public int? Part { get; init; }

    /// <summary>The N of <c>c&lt;N&gt;</c>: counts the captures of this record and these sides, from 1, never reused.</summary>
    public required int Number { get; init; }

    /// <summary>True when the name held no side and A was assumed.</summary>
    public bool SideAssumed { get; init; }

    public required long Bytes { get; init; }

    public required DateTimeOffset ReceivedAt { get; init; }

    /// <summary>Lower-case hex; null until the file was read once to its end.</summary>
    public string? Sha256 { get; init; }

    public long? Frames { get; init; }

    public int? SampleRateHz { get; init; }

    /// <summary>Where the dropped file is now, relative to the station folder; empty once only the bag holds it.</summary>
    public required string Location { get; init; }

    /// <summary>The bag, relative to the station folder, once it was read back and matched.</summary>
    public string? Bag { get; init; }

    public DateTimeOffset? ArchivedAt { get; init; }

    /// <summary>What people call it: <c>HL-0031-A-c1</c>; also the bag's folder name. It stays when the capture is filed under another name.</summary>
    public string Label => LabelOf(LabelRecordId, LabelSides, Number);

    /// <summary>The record in its label: whose folder in the archive its bag lies in.</summary>
    public string LabelRecordId => NamedRecordId ?? RecordId;

    /// <summary>The sides in its label.</summary>
    public string LabelSides => NamedSides ?? Sides;

    /// <summary>What it is filed as.</summary>
    public FiledAs Filed => new(RecordId, Sides, Part);

    public static string LabelOf(string recordId, string sides, int number) =>
        string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{recordId}-{sides}-c{number}");
}
