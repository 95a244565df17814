namespace Station.Audio.Encoding;

/// <summary>A codec program is not installed or cannot be started.</summary>
public sealed class CodecMissingException : Exception
{
    internal CodecMissingException(string program, string debianPackage, string reason, Exception? innerException = null)
        : base($"The program {program} {reason}. Install the Debian package {debianPackage}.", innerException)
    {
        Program = program;
        DebianPackage = debianPackage;
    }

    /// <summary>The program, as configured.</summary>
    public string Program { get; }

    /// <summary>The Debian package that contains it.</summary>
    public string DebianPackage { get; }
}
