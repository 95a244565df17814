namespace Station.Audio.Reading;

/// <summary>What the walk over a container of uncompressed words found, after every stated length was compared with the file.</summary>
internal sealed record PcmLayout
{
    public required string Container { get; init; }

    public required StoredFormat Format { get; init; }

    /// <summary>Offset of the first sample.</summary>
    public required long DataOffset { get; init; }

    /// <summary>Whole frames from there on.</summary>
    public required long Frames { get; init; }

    public required IReadOnlyList<CaptureRepair> Repairs { get; init; }

    /// <summary>The end of the sound is the end of the file because the header does not say: what follows may be reserved space.</summary>
    public required bool EndAssumed { get; init; }

    public BroadcastExtension? Broadcast { get; init; }
}
