namespace Station.Audio.Reading;

/// <summary>A place where a frame may begin, because a whole header stands there; or the end of the file.</summary>
/// <param name="Offset">In the file.</param>
/// <param name="Header">The header; default at the end of the file.</param>
/// <param name="Key"><see cref="FlacCrc.Key"/> of the place.</param>
/// <param name="Next">The next place with the same key; −1 while none is known.</param>
internal readonly record struct FlacSyncPoint(long Offset, FlacFrameHeader Header, ushort Key, long Next)
{
    /// <summary>No header: the end of the file.</summary>
    public bool IsEnd => Header.Bytes == 0;
}
