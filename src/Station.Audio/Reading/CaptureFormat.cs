using System.Diagnostics;

namespace Station.Audio.Reading;

/// <summary>What a capture's container says about its samples, after it was compared with the file.</summary>
public sealed record CaptureFormat
{
    /// <summary>The container found by content, never by extension: <c>wav</c>, <c>rf64</c>, <c>bw64</c>, <c>w64</c>, <c>aiff</c>, <c>aifc</c> or <c>flac</c>.</summary>
    public required string Container { get; init; }

    /// <summary>The words that blocks are handed on in.</summary>
    public required WordFormat Words { get; init; }

    /// <summary>The file stores its words most significant byte first; blocks are little-endian all the same.</summary>
    public bool BigEndianInFile { get; init; }

    /// <summary>Frames per second, Hz.</summary>
    public required int SampleRateHz { get; init; }

    /// <summary>Valid bits of one sample, 16 to 64; not always the width of the word.</summary>
    public required int BitsPerSample { get; init; }

    /// <summary>1 or 2.</summary>
    public required int Channels { get; init; }

    /// <summary>Whole frames that will be handed on. 0 for a FLAC that does not state its total.</summary>
    public required long Frames { get; init; }

    /// <summary>Bytes of one sample in its word.</summary>
    public int BytesPerSample => Words switch
    {
        WordFormat.Int16 => 2,
        WordFormat.Int24 => 3,
        WordFormat.Int24In32 or WordFormat.Int32 or WordFormat.Float32 => 4,
        WordFormat.Float64 => 8,
        _ => throw new UnreachableException(),
    };

    /// <summary>Bytes of one frame: all channels at one instant.</summary>
    public int BytesPerFrame => BytesPerSample * Channels;

    /// <summary>True for the integer words, which a FLAC master holds exactly.</summary>
    public bool IsInteger => Words is not (WordFormat.Float32 or WordFormat.Float64);

    /// <summary>The encoding as the report names it: depth and byte order are those of the file.</summary>
    public string EncodingName => Container == "flac" ? "flac" : StoredKind + (BigEndianInFile ? "be" : "le");

    private string StoredKind => Words switch
    {
        WordFormat.Int16 => "pcm-s16",
        WordFormat.Int24 => "pcm-s24",
        WordFormat.Int24In32 => "pcm-s24in32",
        WordFormat.Int32 => "pcm-s32",
        WordFormat.Float32 => "pcm-f32",
        WordFormat.Float64 => "pcm-f64",
        _ => throw new UnreachableException(),
    };

    /// <summary>Length of the whole frames, seconds.</summary>
    public double DurationSeconds => (double)Frames / SampleRateHz;
}
