namespace Station.Audio.Reading;

/// <summary>What the walk over a FLAC stream found.</summary>
internal sealed record FlacWalk
{
    /// <summary>Gaps told one by one; a file with more is damaged all over, and a list of thousands would help nobody.</summary>
    public const int MaxGaps = 20;

    /// <summary>Where the metadata blocks end by their own account; null when that lies behind the end of the file.</summary>
    public long? StatedSoundStart { get; init; }

    /// <summary>Where the first frame begins that was read; null when there is none.</summary>
    public long? SoundStart { get; set; }

    /// <summary>Behind the last frame that was read.</summary>
    public long SoundEnd { get; set; }

    /// <summary>Frames of sound handed on, silence included.</summary>
    public long Frames { get; set; }

    /// <summary>Frames of that which are silence in place of damage.</summary>
    public long SilentFrames { get; set; }

    /// <summary>The first <see cref="MaxGaps"/> gaps.</summary>
    public List<FlacGap> Gaps { get; } = [];

    /// <summary>The gaps behind those.</summary>
    public int FurtherGaps { get; set; }

    /// <summary>The first and the last of them as one stretch, with the missing frames of all.</summary>
    public FlacGap Further { get; set; }

    /// <summary>Where the last of them ends in the sound.</summary>
    public long FurtherEndFrame { get; set; }

    /// <summary>The first frame's place in time by its number, when the stream was taken to begin there; 0 otherwise.</summary>
    public long NumberedFrom { get; set; }

    /// <summary>The next frame's header stands whole behind the last whole frame, but not the frame.</summary>
    public bool EndsInFrame { get; set; }

    /// <summary>Whole frames behind the last one read that repeat what was past.</summary>
    public long RepeatedAtEnd { get; set; }

    /// <summary>Whole frames of another rate, depth or number of channels behind the last one read: the header of the first, and where it is.</summary>
    public (long Offset, FlacFrameHeader Header)? ForeignAtEnd { get; set; }
}
