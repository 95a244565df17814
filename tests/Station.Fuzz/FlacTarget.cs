using System.Globalization;
using Station.Audio.Encoding;
using Station.Audio.Reading;
using Station.Mutation.Mutations;

namespace Station.Fuzz;

/// <summary>
/// Walks over a FLAC stream without its decoder. A fuzzer does not guess checksums: in inputs of an even length they are put right first.
/// </summary>
internal sealed class FlacTarget : IDisposable
{
    /// <summary>The magic, the first block's header and STREAMINFO (RFC 9639 §8).</summary>
    private const int HeadBytes = 42;

    /// <summary>What a header may make the service grow by (the reader's promise), bytes.</summary>
    private const int MaxHeldBytes = 64 << 20;

    private readonly MemoryFile _file = new();

    public void Run(byte[] input)
    {
        if (input.Length < HeadBytes)
        {
            return;
        }

        if (input.Length % 2 == 0)
        {
            FlacChecksums.PutRight(input);
        }

        var info = FlacStreamInfo.Parse(input.AsSpan(8, FlacStreamInfo.ContentBytes));
        if (info.Channels > 2 || info.BitsPerSample is not (16 or 24 or 32) || info.SampleRateHz is < 22_050 or > 192_000)
        {
            return;      // refused before anybody walks
        }

        _file.Fill(input);
        long seen = 0;
        long written = 0;
        long gapEnd = 0;
        var window = new FlacWindow(_file.Handle, input.Length, "fuzz.flac", bytes => seen = Seen(input, seen, bytes), CancellationToken.None);
        FlacWalk walk = new FlacWalker(
            window, info, HeadBytes, (input[4] & 0x80) != 0, bytes => written += bytes.Length, gap => gapEnd = Gap(gap, gapEnd, input.Length), CancellationToken.None).Run();
        (int held, long _) = window.Bytes;
        Promise(seen == input.Length, $"{seen} bytes of {input.Length} were seen");
        Promise(held <= MaxHeldBytes, $"{held} bytes are held");
        Promise(walk.Frames >= 0 && walk.SilentFrames >= 0 && walk.SilentFrames <= walk.Frames, $"{walk.SilentFrames} silent frames of {walk.Frames}");
        Promise((walk.Frames == 0) == (written == 0), $"{walk.Frames} frames in {written} bytes");
        Promise(walk.SoundEnd <= input.Length && (walk.SoundStart ?? 0) <= walk.SoundEnd, $"sound from {walk.SoundStart} to {walk.SoundEnd} of {input.Length}");
        if (walk.Frames == 0)
        {
            return;      // refused: nothing to repair
        }

        foreach (CaptureRepair repair in FlacRepairs.Of(walk, info, 0, input.Length, ""))
        {
            Promise(repair.ByteOffset >= 0 && repair.ByteOffset <= input.Length, $"a repair at byte {repair.ByteOffset}");
            Promise(repair.Frame is null || (repair.Frame >= 0 && repair.Frame <= walk.Frames), $"a repair at frame {repair.Frame} of {walk.Frames}");
        }
    }

    public void Dispose() => _file.Dispose();

    private static long Seen(byte[] input, long seen, ReadOnlySpan<byte> bytes)
    {
        Promise(seen + bytes.Length <= input.Length && bytes.SequenceEqual(input.AsSpan((int)seen, bytes.Length)), $"other bytes from {seen} on");
        return seen + bytes.Length;
    }

    private static long Gap(FlacGap gap, long behind, long length)
    {
        Promise(
            gap.ByteStart >= 0 && gap.ByteStart <= gap.ByteEnd && gap.ByteEnd <= length && gap.FirstFrame >= behind && gap.Frames >= 0 && gap.RepeatedBlocks >= 0,
            $"{gap} behind frame {behind}");
        return gap.FirstFrame + gap.Frames;
    }

    private static void Promise(bool kept, FormattableString otherwise)
    {
        if (!kept)
        {
            throw new BrokenPromiseException(otherwise.ToString(CultureInfo.InvariantCulture));
        }
    }
}
