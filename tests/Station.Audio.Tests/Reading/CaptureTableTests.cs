using Microsoft.Win32.SafeHandles;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>
/// The tables of docs/formats/captures.md say what happens to each container, encoding and damage; here each row is made, read and
/// compared with what it says, so that page and reader can't part.
/// </summary>
public sealed class CaptureTableTests : IDisposable
{
    private readonly TestFolder _folder = new();

    public static TheoryData<string> Rows => [.. CaptureTable.Rows.Select(r => r.Id)];

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Every_row_has_a_file_and_every_file_a_row()
    {
        string[] rows = [.. CaptureTable.Rows.Select(r => r.Id).Order(StringComparer.Ordinal)];
        Assert.Equal(rows.Distinct(StringComparer.Ordinal), rows);
        Assert.Equal(CaptureCases.All.Keys.Order(StringComparer.Ordinal), rows);
    }

    [Fact]
    public void Every_encoding_but_the_ones_ffmpeg_misreads_is_compared_with_ffmpeg() =>
        Assert.Equal(
            ["aiff-20in24", "w64-ext-24in32", "wav-ext-20in24", "wav-ext-24in32"],
            EncodingCases.All.Where(c => c.Value().Any(f => f.Oracle is null)).Select(c => c.Key).Order(StringComparer.Ordinal));

    [Theory, MemberData(nameof(Rows))]
    public void A_row_says_what_happens(string id)
    {
        CaptureTable.Row row = CaptureTable.Rows.Single(r => r.Id == id);
        foreach (CaptureCase made in CaptureCases.All[id]())
        {
            // The name of another format: only the content counts.
            string path = _folder.New(".mp3");
            made.Write(path);
            if (row.RefusedAt is { } offset)
            {
                CheckRefusal(row, offset, ReadResult.Refusal(path), path);
            }
            else if (made.Huge is { } huge)
            {
                CheckHuge(row, huge, path);
            }
            else
            {
                CheckReading(row, made, path);
            }
        }
    }

    private static void CheckRefusal(CaptureTable.Row row, long offset, CaptureRefusal refusal, string path)
    {
        Assert.Equal(offset, refusal.ByteOffset);
        Assert.All(row.Texts, text => Assert.Contains(text, refusal.OneLine, StringComparison.Ordinal));

        // The line's own parts: file, place, expected, found, what to do.
        Assert.StartsWith(FormattableString.Invariant($"{Path.GetFileName(path)}: byte {offset}: expected "), refusal.OneLine, StringComparison.Ordinal);
        Assert.Contains(", found ", refusal.OneLine, StringComparison.Ordinal);
        Assert.EndsWith(refusal.Advice, refusal.OneLine, StringComparison.Ordinal);
        Assert.NotEmpty(refusal.Advice);
        Assert.DoesNotContain('\n', refusal.OneLine);
    }

    private static void CheckReading(CaptureTable.Row row, CaptureCase made, string path)
    {
        ReadResult result = ReadResult.Of(path);     // also compares the parts of the file with the file
        CheckRepairs(row, result.Repairs);
        Assert.Equal(made.Words, result.Words);
        if (row.Encoding is { } encoding)
        {
            Assert.Equal(encoding, result.Format.EncodingName);
            Assert.Equal(
                PlainConversion.ToFloats(made.Words, result.Format.Words, 8 * result.Format.BytesPerSample), result.Samples);
        }

        if (made.Oracle is { } raw)
        {
            Assert.Equal(Tool.Decode(path, raw), result.Words);
        }
    }

    private static void CheckHuge(CaptureTable.Row row, HugeFile huge, string path)
    {
        using SafeFileHandle file = File.OpenHandle(path);
        using CaptureReader reader = CaptureReader.Open(file, "x", new ReaderLimits { MaxDurationSeconds = 1e6 }, ReadResult.Codecs).Reader!;
        CheckRepairs(row, reader.Repairs);
        Assert.Equal((huge.Frames, huge.HeaderBytes), (reader.Format.Frames, reader.Layout.HeaderBytes));
        byte[] last = new byte[huge.LastBytes.Length];
        Assert.Equal(last.Length, RandomAccess.Read(file, last, reader.Layout.TrailerOffset - last.Length));
        Assert.Equal(huge.LastBytes, last);
        Assert.Equal(RandomAccess.GetLength(file), reader.Layout.TrailerOffset + reader.Layout.TrailerBytes);
    }

    private static void CheckRepairs(CaptureTable.Row row, IReadOnlyList<CaptureRepair> repairs)
    {
        Assert.Equal(row.Repairs.Select(r => (r.Code, r.InDoubt)), repairs.Select(r => (r.Code, r.SoundInDoubt)));
        Assert.All(row.Repairs.Zip(repairs), pair => Assert.Contains(pair.First.Text, pair.Second.Message, StringComparison.Ordinal));
    }
}
