namespace Station.Mutation.Seeds;

/// <summary>A file to start from.</summary>
/// <param name="Name">For messages.</param>
/// <param name="Family">Which reader it is meant for.</param>
/// <param name="Segments">Its pieces in order.</param>
/// <param name="Sound">True when nothing is wrong with it: it must be taken without a repair.</param>
public sealed record SeedFile(string Name, SeedFamily Family, IReadOnlyList<Segment> Segments, bool Sound)
{
    /// <summary>The pieces joined.</summary>
    public byte[] ToBytes() => [.. Segments.SelectMany(s => s.Bytes)];
}
