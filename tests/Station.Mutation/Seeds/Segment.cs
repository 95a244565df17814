namespace Station.Mutation.Seeds;

/// <summary>A piece of a file that its format knows as one: a header, a chunk, a metadata block, a frame.</summary>
/// <param name="Bytes">Its content with its own header and padding.</param>
/// <param name="Fields">The fields in it.</param>
public sealed record Segment(byte[] Bytes, IReadOnlyList<Field> Fields);
