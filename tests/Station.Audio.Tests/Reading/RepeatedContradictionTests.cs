using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>Files that contradict themselves thousands of times, as a mutation campaign made them: a report of thousands of lines helps nobody.</summary>
public sealed class RepeatedContradictionTests : IDisposable
{
    private const int Times = 3000;

    private static readonly byte[] Fmt = WaveBytes.Fmt(1, 2, 48_000, 2, 16);

    private readonly TestFolder _folder = new();

    [Fact]
    public void The_first_contradictions_are_told_one_by_one_and_the_rest_by_number()
    {
        byte[] sound = WaveBytes.Words(61, 4000);
        byte[][] empty = [.. Enumerable.Repeat(WaveBytes.Chunk("fmt ", []), Times)];
        ReadResult result = ReadResult.Of(_folder.Write(WaveBytes.Riff([Fmt, .. empty, WaveBytes.Chunk("data", sound)])));

        Assert.Equal(sound, result.Words);
        Assert.Equal(21, result.Repairs.Count);
        Assert.All(result.Repairs, r => Assert.True(r.SoundInDoubt));
        Assert.Equal(12 + Fmt.Length + (20 * 8) + 8, result.Repairs[^1].ByteOffset);
        Assert.Contains(FormattableString.Invariant($"{Times - 20} more"), result.Repairs[^1].Message, StringComparison.Ordinal);
    }

    [Fact]
    public void What_is_said_of_the_sound_itself_is_never_left_out()
    {
        byte[] sound = WaveBytes.Words(62, 4000);
        byte[][] empty = [.. Enumerable.Repeat(WaveBytes.Chunk("fmt ", []), Times)];
        ReadResult result = ReadResult.Of(_folder.Write(WaveBytes.Riff([Fmt, .. empty, WaveBytes.Chunk("data", sound, statedSize: 9000)])));

        Assert.Equal(sound, result.Words);
        Assert.Contains(result.Repairs, r => r.Code == CaptureRepair.Truncated && r.Message.Contains("9000", StringComparison.Ordinal));
    }

    [Fact]
    public void A_form_type_of_blanks_is_told_so_that_it_can_be_seen()
    {
        CaptureRefusal refusal = ReadResult.Refusal(_folder.Write([.. "RIFF"u8, 56, 0, 0, 0, .. "    "u8, .. Fmt]));
        Assert.Equal("'    '", refusal.Found);
    }

    public void Dispose() => _folder.Dispose();
}
