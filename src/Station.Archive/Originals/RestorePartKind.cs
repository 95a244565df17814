using System.Text.Json.Serialization;

namespace Station.Archive.Originals;

/// <summary>How a part of a dropped file is kept.</summary>
public enum RestorePartKind
{
    /// <summary>The file's bytes as they are.</summary>
    [JsonStringEnumMemberName("bytes")]
    Bytes,

    /// <summary>The samples in the dropped file's own words, to be decoded from a lossless master.</summary>
    [JsonStringEnumMemberName("words")]
    Words,
}
