namespace Station.Mutation.Seeds;

/// <summary>A field of a header.</summary>
/// <param name="Offset">Bytes from the start of the segment, or of the file once the segments were joined.</param>
/// <param name="Width">Bytes; a number is at most 8 wide.</param>
/// <param name="BigEndian">Most significant byte first.</param>
/// <param name="Kind">What it is for.</param>
public readonly record struct Field(int Offset, int Width, bool BigEndian, FieldKind Kind);
