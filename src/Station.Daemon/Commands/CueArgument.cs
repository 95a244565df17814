using System.Diagnostics.CodeAnalysis;
using Microsoft.Win32.SafeHandles;
using Station.Daemon.Records;

namespace Station.Daemon.Commands;

/// <summary>A cue sheet named on the command line.</summary>
internal static class CueArgument
{
    /// <summary>Reads and validates it; problems go to standard error, each with its line and column.</summary>
    public static bool TryRead(string path, [NotNullWhen(true)] out CueResult? cue, [NotNullWhen(true)] out string? text)
    {
        cue = null;
        text = null;
        byte[] bytes;
        try
        {
            bytes = ReadSome(path);
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            Console.Error.WriteLine($"{path}: {error.Message}");
            return false;
        }

        CueResult result = CueReader.Read(bytes, Path.GetFileName(path));
        foreach (string line in result.Lines())
        {
            Console.Error.WriteLine(line);
        }

        if (result.Sheet is null || !Utf8Text.TryDecode(bytes, out text, out _))
        {
            return false;
        }

        cue = result;
        return true;
    }

    /// <summary>No more than it takes to see that it is too long.</summary>
    private static byte[] ReadSome(string path)
    {
        using SafeFileHandle file = File.OpenHandle(path);
        byte[] bytes = new byte[CueReader.MaxBytes + 1];
        int filled = 0;
        while (filled < bytes.Length && RandomAccess.Read(file, bytes.AsSpan(filled), filled) is > 0 and var count)
        {
            filled += count;
        }

        return bytes[..filled];
    }
}
