using System.Diagnostics.CodeAnalysis;
using System.Text;
using System.Text.Unicode;

namespace Station.Daemon.Records;

/// <summary>Text files somebody wrote: UTF-8, with or without a byte order mark, and nothing that is nearly UTF-8.</summary>
internal static class Utf8Text
{
    /// <summary>Decodes a whole file, or says where it stops being UTF-8.</summary>
    /// <param name="bytes">The file. A byte order mark at its beginning is left out.</param>
    /// <param name="text">The text.</param>
    /// <param name="error">Line and column of the first byte that is no part of a character.</param>
    public static bool TryDecode(ReadOnlySpan<byte> bytes, [NotNullWhen(true)] out string? text, [NotNullWhen(false)] out SheetError? error)
    {
        if (bytes.StartsWith(Encoding.UTF8.Preamble))
        {
            bytes = bytes[Encoding.UTF8.Preamble.Length..];     // some editors and spreadsheets put one in front
        }

        if (Utf8.IsValid(bytes))
        {
            text = Encoding.UTF8.GetString(bytes);
            error = null;
            return true;
        }

        int bad = FirstFault(bytes);
        int line = bytes[..bad].Count((byte)'\n') + 1;
        ReadOnlySpan<byte> before = bytes[(bytes[..bad].LastIndexOf((byte)'\n') + 1)..bad];
        text = null;
        error = new SheetError(line, Encoding.UTF8.GetCharCount(before) + 1, "", $"the text is not valid UTF-8 (byte 0x{bytes[bad]:X2}); save it as UTF-8");
        return false;
    }

    private static int FirstFault(ReadOnlySpan<byte> bytes)
    {
        int at = 0;
        while (Rune.DecodeFromUtf8(bytes[at..], out _, out int used) == System.Buffers.OperationStatus.Done)
        {
            at += used;
        }

        return at;
    }
}
