using Station.Mutation.Seeds;

namespace Station.Mutation.Mutations;

/// <summary>One file of a campaign.</summary>
/// <param name="Index">Its number in the campaign, from 0.</param>
/// <param name="Family">The family of the seed it began as.</param>
/// <param name="Recipe">The seed and what was done to it, for messages.</param>
/// <param name="Content">The bytes.</param>
/// <param name="HoleBytes">Zeros to follow the content without using disk; the file is then only opened, not read.</param>
public sealed record MutatedFile(long Index, SeedFamily Family, string Recipe, byte[] Content, long HoleBytes)
{
    /// <summary>Length on disk, the hole included.</summary>
    public long Length => Content.Length + HoleBytes;

    /// <summary>Puts it on disk, in place of what is there.</summary>
    public void WriteTo(string path)
    {
        using var stream = new FileStream(path, FileMode.Create, FileAccess.Write, FileShare.None, bufferSize: 0);
        stream.Write(Content);
        stream.SetLength(Length);
    }
}
