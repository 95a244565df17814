using System.Text;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Records;

/// <summary>Sheets, lists and cue sheets as damage or malice leaves them: always a result or errors with places, never an exception, never memory without bound.</summary>
public sealed class HostileTextTests
{
    private const string List = "record,artist,title,side,mono,trackTitles,trackLengths,year\r\nHL-0031,\"The Lantern, Street \"\"Quintet\"\"\",Tide Tables,A,true,\"Low Water\nSlack Tide\",\"4:12\n3:00\",1968\r\nHL-0032,,,B,,Ebb,,\r\n";
    private const string Cue = "REM x\r\nFILE \"HL-0031-A.wav\" WAVE\r\n  TRACK 01 AUDIO\r\n    TITLE \"Low Water\"\r\n    INDEX 01 00:01:00\r\n  TRACK 02 AUDIO\r\n    INDEX 00 04:11:70\r\n    INDEX 01 04:12:37\r\n";
    private const string Sheet = "record: HL-0031\nartist: \"The Lantern\"\nyear: 1968\nsides:\n  A:\n    tracks:\n      - title: Low Water\n        length: \"4:12\"\n";

    // Inputs are at most this long, and reading them may take this many bytes a byte of input, plus a little: no blow-up.
    private const long MostBytesPerByte = 400;

    private static readonly byte[][] Pieces =
    [
        [0], [0xFF], [0xC3], [0xED, 0xA0, 0x80], "\""u8.ToArray(), "\"\""u8.ToArray(), ","u8.ToArray(), ";"u8.ToArray(), "\t"u8.ToArray(), "\r"u8.ToArray(), "\n"u8.ToArray(), "\r\n"u8.ToArray(),
        ":"u8.ToArray(), "&a *a"u8.ToArray(), "!!"u8.ToArray(), "{[{["u8.ToArray(), "\u2028"u8.ToArray(), "\u202E"u8.ToArray(), "=1"u8.ToArray(), "99999999999999999999"u8.ToArray(), "INDEX 01 "u8.ToArray(), "TRACK 01 AUDIO\n"u8.ToArray(),
    ];

    [Theory]
    [InlineData(nameof(List), 1)]
    [InlineData(nameof(Cue), 2)]
    [InlineData(nameof(Sheet), 3)]
    public void Four_thousand_mutations_give_a_result_or_errors_with_places(string kind, int seed)
    {
        var random = new Random(seed);
        byte[] good = Encoding.UTF8.GetBytes(kind switch { nameof(List) => List, nameof(Cue) => Cue, _ => Sheet });
        Assert.Empty(Errors(kind, good));
        int refused = 0;
        for (int n = 0; n < 4000; n++)
        {
            byte[] bytes = Mutate(good, random);
            IReadOnlyList<SheetError> errors = Errors(kind, bytes);
            int lines = Encoding.UTF8.GetString(bytes).ReplaceLineEndings("\n").Count(c => c == '\n') + 1;
            Assert.All(errors, e =>
            {
                Assert.InRange(e.Line, 1, lines + 1);
                Assert.True(e.Column >= 1);
                Assert.DoesNotContain(e.Message, c => char.IsControl(c));
            });
            refused += errors.Count > 0 ? 1 : 0;
        }

        Assert.InRange(refused, 100, 4000);
    }

    [Theory]
    [InlineData("ten megabytes on one line")]
    [InlineData("a million rows")]
    [InlineData("a million cells")]
    [InlineData("one open quote")]
    [InlineData("nothing but quotes")]
    [InlineData("nothing but NUL")]
    [InlineData("nothing but line breaks")]
    [InlineData("not UTF-8")]
    [InlineData("deep nesting")]
    public void Large_nonsense_is_refused_with_bounded_memory(string what)
    {
        byte[] bytes = what switch
        {
            "ten megabytes on one line" => Filled(10 * 1024 * 1024, (byte)'x'),
            "a million rows" => Encoding.UTF8.GetBytes("record\n" + string.Concat(Enumerable.Repeat("HL-1\n", 1_000_000))),
            "a million cells" => Encoding.UTF8.GetBytes("record" + new string(',', 1_000_000)),
            "one open quote" => [.. "record,title\nHL-1,\""u8, .. Filled(1_000_000, (byte)'\n')],
            "nothing but quotes" => Filled(1_000_001, (byte)'"'),
            "nothing but NUL" => Filled(1_000_000, 0),
            "nothing but line breaks" => Filled(250_000, (byte)'\n'),
            "not UTF-8" => Filled(200_000, 0xFF),
            _ => Filled(200_000, (byte)'['),
        };
        foreach (string kind in new[] { nameof(List), nameof(Cue), nameof(Sheet) })
        {
            long before = GC.GetAllocatedBytesForCurrentThread();
            Assert.NotEmpty(Errors(kind, bytes));
            Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, (MostBytesPerByte * bytes.Length) + 1_000_000);
        }
    }

    private static byte[] Filled(int length, byte value)
    {
        byte[] bytes = new byte[length];
        bytes.AsSpan().Fill(value);
        return bytes;
    }

    private static byte[] Mutate(byte[] good, Random random)
    {
        var bytes = new List<byte>(good);
        for (int k = random.Next(1, 5); k > 0; k--)
        {
            int at = random.Next(bytes.Count);
            switch (random.Next(5))
            {
                case 0:
                    bytes[at] = (byte)random.Next(256);
                    break;
                case 1:
                    bytes.RemoveRange(at, Math.Min(random.Next(1, 20), bytes.Count - at));
                    break;
                case 2:
                    bytes.InsertRange(at, Pieces[random.Next(Pieces.Length)]);
                    break;
                case 3:
                    bytes.InsertRange(at, bytes.GetRange(0, random.Next(bytes.Count)));
                    break;
                default:
                    bytes.RemoveRange(at, bytes.Count - at);
                    break;
            }

            if (bytes.Count == 0)
            {
                break;
            }
        }

        return [.. bytes];
    }

    private static IReadOnlyList<SheetError> Errors(string kind, byte[] bytes) => kind switch
    {
        nameof(List) => ShelfListReader.Read(bytes, "x.shelf.csv", SheetReaderTests.Codes).Errors,
        nameof(Cue) => CueReader.Read(bytes, "x.cue").Errors,
        _ => SheetReader.Read(bytes, "x.yaml", SheetReaderTests.Codes).Errors,
    };
}
