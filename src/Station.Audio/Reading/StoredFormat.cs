namespace Station.Audio.Reading;

/// <summary>How the samples are stored, as the container's format chunk says after it was judged.</summary>
internal sealed record StoredFormat
{
    /// <summary>The words once they are little-endian.</summary>
    public required WordFormat Words { get; init; }

    /// <summary>Bytes of one stored word.</summary>
    public required int WordBytes { get; init; }

    /// <summary>Most significant byte first.</summary>
    public bool BigEndian { get; init; }

    public required int BitsPerSample { get; init; }

    public required int Channels { get; init; }

    public required int SampleRateHz { get; init; }

    /// <summary>Frames the format chunk states; null where it states none.</summary>
    public long? StatedFrames { get; init; }

    /// <summary>What the chunk contradicts itself in, and what was believed.</summary>
    public string? Contradiction { get; init; }

    /// <summary>The contradiction puts the meaning of the words in doubt.</summary>
    public bool ContradictionInDoubt { get; init; } = true;
}
