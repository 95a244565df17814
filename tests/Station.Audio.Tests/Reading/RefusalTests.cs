using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

public sealed class RefusalTests : IDisposable
{
    private static readonly byte[] Fmt = WaveBytes.Fmt(1, 2, 48_000, 2, 16);
    private static readonly byte[] Data = WaveBytes.Chunk("data", WaveBytes.Words(30, 4000));

    private readonly TestFolder _folder = new();

    /// <summary>Name of the case, kind, offset, part of what was expected, part of what was found.</summary>
    public static TheoryData<string, RefusalKind, long, string, string> Cases => new()
    {
        { "empty", RefusalKind.BadInput, 0, "WAV", "an empty file" },
        { "four bytes", RefusalKind.BadInput, 4, "12 bytes", "the end after 4 bytes" },
        { "header only", RefusalKind.BadInput, 12, "fmt", "none up to the end" },
        { "text", RefusalKind.BadInput, 0, "WAV", "text" },
        { "archive", RefusalKind.BadInput, 0, "WAV", "an archive" },
        { "program", RefusalKind.BadInput, 0, "WAV", "a program" },
        { "noise", RefusalKind.BadInput, 0, "WAV", "begins with 00FF10" },
        { "zeros", RefusalKind.BadInput, 0, "WAV", "zero bytes" },
        { "no fmt", RefusalKind.BadInput, 12, "fmt", "none up to the end" },
        { "no data", RefusalKind.BadInput, 12, "data", "none up to the end" },
        { "empty data", RefusalKind.BadInput, 12, "data chunk with sound", "none up to the end" },
        { "chunk past the end", RefusalKind.BadInput, 12, "data", "'LIST' at byte 36, which states 99999 bytes" },
        { "no chunk behind fmt", RefusalKind.BadInput, 12, "data", "no chunk" },
        { "half a frame", RefusalKind.BadInput, 44, "at least one frame of 4 bytes", "3 bytes" },
        { "short fmt", RefusalKind.BadInput, 20, "16 bytes or more", "14 bytes" },
        { "cut fmt", RefusalKind.BadInput, 20, "a fmt chunk of 16 bytes", "7 bytes to the end" },
        { "short extensible", RefusalKind.BadInput, 20, "40 bytes", "18 bytes" },
        { "foreign guid", RefusalKind.Unsupported, 44, "PCM or float", "sub-format" },
        { "mu-law", RefusalKind.Unsupported, 20, "PCM or float", "mu-law" },
        { "A-law", RefusalKind.Unsupported, 20, "PCM or float", "A-law" },
        { "MP3 in WAV", RefusalKind.Unsupported, 20, "PCM or float", "MPEG audio" },
        { "8 bits", RefusalKind.Unsupported, 34, "16 to 64 bits", "8 bits" },
        { "12 valid bits", RefusalKind.Unsupported, 38, "16 to 64 bits", "12 bits" },
        { "float of 16 bits", RefusalKind.Unsupported, 32, "float in 4 or 8", "float of 16 bits in 2 bytes" },
        { "no channels", RefusalKind.BadInput, 22, "1 or 2 channels", "0 channels" },
        { "six channels", RefusalKind.Unsupported, 22, "1 or 2 channels", "6 channels" },
        { "rate 0", RefusalKind.BadInput, 22, "a sample rate", "0 Hz" },
        { "rate 8000", RefusalKind.LimitReached, 22, "22050 to 192000 Hz", "8000 Hz" },
        { "rate absurd", RefusalKind.LimitReached, 22, "22050 to 192000 Hz", "4294967295 Hz" },
        { "block align 0", RefusalKind.BadInput, 32, "block align", "0 bytes" },
        { "block align odd", RefusalKind.BadInput, 32, "block align", "5 bytes" },
        { "block align too small", RefusalKind.BadInput, 32, "at least 3 bytes a sample for 24 bits", "2 bytes" },
        { "RIFX", RefusalKind.Unsupported, 0, "WAV", "big-endian RIFX" },
        { "IFF of pictures", RefusalKind.Unsupported, 0, "AIFF", "IFF" },
        { "Ogg", RefusalKind.Unsupported, 0, "WAV", "Ogg" },
        { "MPEG", RefusalKind.Unsupported, 0, "WAV", "MPEG audio" },
        { "MPEG with ID3", RefusalKind.Unsupported, 0, "WAV", "MPEG audio" },
        { "MPEG-4", RefusalKind.Unsupported, 0, "WAV", "MPEG-4" },
        { "RIFF of pictures", RefusalKind.Unsupported, 8, "WAVE", "AVI" },
        { "many chunks", RefusalKind.LimitReached, 12 + (65_536 * 8), "65536 chunks", "more" },
    };

    public void Dispose() => _folder.Dispose();

    [Theory, MemberData(nameof(Cases))]
    public void A_file_that_cannot_be_taken_is_named_with_place_and_reason(string name, RefusalKind kind, long offset, string expected, string found)
    {
        CaptureRefusal refusal = ReadResult.Refusal(_folder.Write(Build(name)));
        Assert.Equal((kind, offset), (refusal.Kind, refusal.ByteOffset));
        Assert.Contains(expected, refusal.Expected, StringComparison.Ordinal);
        Assert.Contains(found, refusal.Found, StringComparison.Ordinal);
        Assert.NotEmpty(refusal.Advice);
        Assert.DoesNotContain('\n', refusal.OneLine);
    }

    [Fact]
    public void Too_large_a_file_and_too_long_a_sound_are_refused_with_value_and_limit()
    {
        string path = _folder.Write(WaveBytes.Riff(Fmt, Data));
        CaptureRefusal large = ReadResult.Refusal(path, new ReaderLimits { MaxFileBytes = 1000 });
        Assert.Equal((RefusalKind.LimitReached, "at most 1000 bytes", "4044 bytes"), (large.Kind, large.Expected, large.Found));
        CaptureRefusal wide = ReadResult.Refusal(path, new ReaderLimits { MaxDurationSeconds = 0.02 });
        Assert.Equal((RefusalKind.LimitReached, "at most 0.02 s of sound"), (wide.Kind, wide.Expected));
    }

    [Fact]
    public void A_sparse_file_that_claims_hours_is_refused_by_its_header()
    {
        string path = _folder.New(".wav");
        using (var file = new FileStream(path, FileMode.CreateNew))
        {
            file.Write(WaveBytes.Wide("RF64", 20L << 30, 0, Fmt, [.. "data"u8, .. WaveBytes.U32(0xFFFF_FFFF)]));
            file.SetLength(20L << 30);
        }

        Assert.Equal(RefusalKind.LimitReached, ReadResult.Refusal(path).Kind);
    }

    [Fact]
    public void The_one_line_escapes_what_could_break_or_disguise_it()
    {
        var refusal = new CaptureRefusal(RefusalKind.BadInput, "a\nb\u001b[2J\u202Egnp.wav", 12, "x", "y", "Do it again.");
        Assert.Equal("a\\u000ab\\u001b[2J\\u202egnp.wav: byte 12: expected x, found y. Do it again.", refusal.OneLine);
    }

    [Fact]
    public void The_one_line_escapes_whole_characters_not_halves()
    {
        // Tag letters are invisible and lie beyond the first plane (Unicode 16.0, chapter 23.9, second-hand); half a character is what is
        // left of a name that is not UTF-8. Not rows of a theory: an attribute cannot hold half a character.
        Assert.Equal("A\\U000e0041B\\U000e007f", Shown("A\U000E0041B\U000E007F"));
        Assert.Equal("half \\ud800 a", Shown("half \uD800 a"));
        Assert.Equal("half \\udc41", Shown("half \uDC41"));
        Assert.Equal("clef \U0001D11E", Shown("clef \U0001D11E"));

        static string Shown(string name) =>
            new CaptureRefusal(RefusalKind.BadInput, name, 0, "x", "y", "z").OneLine.Replace(": byte 0: expected x, found y. z", "", StringComparison.Ordinal);
    }

    private static byte[] Build(string name)
    {
        byte[] pad = new byte[64];
        byte[] WithFmt(byte[] fmt) => WaveBytes.Riff(fmt, Data);
        byte[] guid = WaveBytes.FmtExtensible(1, 2, 48_000, 2, 16);
        guid[^1] ^= 1;
        byte[] cut = WaveBytes.Riff(Fmt);
        return name switch
        {
            "empty" => [],
            "four bytes" => [.. "RIFF"u8],
            "header only" => WaveBytes.Riff(),
            "text" => [.. "Side A of HL-0031, played on a Tuesday.\n"u8],
            "archive" => [.. "PK\u0003\u0004"u8, .. pad],
            "program" => [.. "\u007FELF"u8, .. pad],
            "noise" => [0x00, 0xFF, 0x10, .. pad],
            "zeros" => pad,
            "no fmt" => WaveBytes.Riff(Data),
            "no data" => WaveBytes.Riff(Fmt),
            "empty data" => WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", [])),
            "chunk past the end" => WaveBytes.Riff(Fmt, WaveBytes.Chunk("LIST", pad, 99_999)),
            "no chunk behind fmt" => WaveBytes.Riff(Fmt, pad),
            "half a frame" => WaveBytes.Riff(Fmt, WaveBytes.Chunk("data", [1, 2, 3])),
            "short fmt" => WithFmt(WaveBytes.Chunk("fmt ", Fmt[8..22])),
            "cut fmt" => cut[..27],
            "short extensible" => WithFmt(WaveBytes.Chunk("fmt ", [.. WaveBytes.FmtExtensible(1, 2, 48_000, 2, 16)[8..26]])),
            "foreign guid" => WithFmt(guid),
            "mu-law" => WithFmt(WaveBytes.Fmt(7, 2, 48_000, 1, 8)),
            "A-law" => WithFmt(WaveBytes.Fmt(6, 2, 48_000, 1, 8)),
            "MP3 in WAV" => WithFmt(WaveBytes.Fmt(0x55, 2, 48_000, 1, 0)),
            "8 bits" => WithFmt(WaveBytes.Fmt(1, 2, 48_000, 1, 8)),
            "12 valid bits" => WithFmt(WaveBytes.FmtExtensible(1, 2, 48_000, 2, 12)),
            "float of 16 bits" => WithFmt(WaveBytes.Fmt(3, 2, 48_000, 2, 16)),
            "no channels" => WithFmt(WaveBytes.Fmt(1, 0, 48_000, 2, 16)),
            "six channels" => WithFmt(WaveBytes.FmtExtensible(1, 6, 48_000, 2, 16)),
            "rate 0" => WithFmt(WaveBytes.Fmt(1, 2, 0, 2, 16)),
            "rate 8000" => WithFmt(WaveBytes.Fmt(1, 2, 8000, 2, 16)),
            "rate absurd" => WithFmt(WaveBytes.Fmt(1, 2, uint.MaxValue, 2, 16)),
            "block align 0" => WithFmt(WaveBytes.Fmt(1, 2, 48_000, 2, 16, blockAlign: 0)),
            "block align odd" => WithFmt(WaveBytes.Fmt(1, 2, 48_000, 2, 16, blockAlign: 5)),
            "block align too small" => WithFmt(WaveBytes.Fmt(1, 2, 48_000, 2, 24)),
            "RIFX" => [.. "RIFX"u8, .. pad],
            "IFF of pictures" => [.. "FORM"u8, 0, 0, 0, 0, .. "ILBM"u8, .. pad],
            "Ogg" => [.. "OggS"u8, .. pad],
            "MPEG" => [0xFF, 0xFB, 0x90, 0x00, .. pad],
            "MPEG with ID3" => [.. "ID3"u8, 4, 0, 0, 0, 0, 0, 10, .. pad],
            "MPEG-4" => [0, 0, 0, 32, .. "ftypM4A "u8, .. pad],
            "RIFF of pictures" => [.. "RIFF"u8, 0, 0, 0, 0, .. "AVI "u8, .. pad],
            "many chunks" => WaveBytes.Riff([.. Enumerable.Repeat(WaveBytes.Chunk("JUNK", []), 65_537)]),
            _ => throw new ArgumentOutOfRangeException(nameof(name), name, "No such case."),
        };
    }
}
