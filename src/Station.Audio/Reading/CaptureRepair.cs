namespace Station.Audio.Reading;

/// <summary>Something the container got wrong and the reader had to assume.</summary>
/// <param name="Code"><c>file-truncated</c> (samples are missing) or <c>file-damaged</c> (the container contradicts itself; no sample is missing as far as can be told).</param>
/// <param name="Message">What was found and what was assumed, for the operator.</param>
/// <param name="ByteOffset">Where in the file.</param>
/// <param name="Frame">Where in the sound, when that is known.</param>
public sealed record CaptureRepair(string Code, string Message, long ByteOffset, long? Frame)
{
    /// <summary>The <see cref="Code"/> of missing samples.</summary>
    public const string Truncated = "file-truncated";

    /// <summary>The <see cref="Code"/> of a container that contradicts itself.</summary>
    public const string Damaged = "file-damaged";

    /// <summary>The first frame behind the stretch that begins at <see cref="Frame"/>, when the stretch is known.</summary>
    public long? EndFrame { get; init; }

    /// <summary>
    /// True when the extent or the meaning of the sound rests on an assumption, so that a person should listen; false when only
    /// something around the sound was wrong (a size field nobody needs, a chunk cut off behind it).
    /// </summary>
    public bool SoundInDoubt { get; init; } = true;
}
