namespace Station.Archive.Bags;

/// <summary>A tag file of a bag cannot be used. The message names file and line.</summary>
public sealed class BagFormatException(string file, string message) : IOException(message)
{
    /// <summary>The tag file.</summary>
    public string File { get; } = file;
}
