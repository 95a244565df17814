using Station.Audio.Encoding;

namespace Station.Audio.Reading;

/// <summary>What the operator is told about a FLAC that was walked over and decoded. Pure.</summary>
internal static class FlacRepairs
{
    /// <summary>Says what was assumed.</summary>
    /// <param name="walk">What was found; at least one frame.</param>
    /// <param name="info">STREAMINFO.</param>
    /// <param name="flacStart">Where the stream begins in the file.</param>
    /// <param name="fileLength">Bytes.</param>
    /// <param name="md5">Of all words that were handed on, 32 lower-case hexadecimal digits.</param>
    public static List<CaptureRepair> Of(FlacWalk walk, FlacStreamInfo info, long flacStart, long fileLength, string md5)
    {
        bool matches = string.Equals(md5, info.Md5, StringComparison.Ordinal);
        List<CaptureRepair> repairs = [];
        AddBeginning(repairs, walk, info);
        foreach (FlacGap gap in walk.Gaps)
        {
            repairs.Add(Tell(gap, info));
        }

        AddFurther(repairs, walk, info);
        AddEnd(repairs, walk, info, fileLength, matches);

        // With silence in it, or without its end, the sound cannot match; then the difference says nothing more.
        if (info.Md5 is not null && !matches && walk.SilentFrames == 0 && walk.Frames >= info.TotalFrames)
        {
            repairs.Add(new(
                CaptureRepair.Damaged,
                $"The sound has the MD5 {md5}, STREAMINFO states {info.Md5}; but every FLAC frame matches its own checksum. The frames were believed.",
                flacStart + FlacCaptureReader.Md5Offset,
                null));
        }

        // The MD5 is of every sample: where it matches, the sound is the one that was encoded, whatever stood between.
        return matches ? [.. repairs.Select(r => r with { SoundInDoubt = false })] : repairs;
    }

    private static void AddBeginning(List<CaptureRepair> repairs, FlacWalk walk, FlacStreamInfo info)
    {
        long start = walk.SoundStart!.Value;
        if (walk.StatedSoundStart is null || start < walk.StatedSoundStart)
        {
            repairs.Add(new(
                CaptureRepair.Damaged,
                FormattableString.Invariant(
                    $"The metadata blocks state a length that is not theirs (they would end {(walk.StatedSoundStart is { } stated ? $"at byte {stated}" : "behind the end of the file")}); the first whole FLAC frame was found at byte {start}."),
                start,
                0)
            { SoundInDoubt = false });
        }

        if (walk.NumberedFrom > 0)
        {
            repairs.Add(new(
                CaptureRepair.Damaged,
                FormattableString.Invariant(
                    $"The first FLAC frame is numbered as if {walk.NumberedFrom} frames of sound ({Seconds(walk.NumberedFrom, info)}) lay in front of it; the sound was taken to begin there."),
                start,
                0));
        }
    }

    private static CaptureRepair Tell(in FlacGap gap, FlacStreamInfo info)
    {
        long bytes = gap.ByteEnd - gap.ByteStart;
        string repeats = gap.RepeatedBlocks == 0
            ? ""
            : FormattableString.Invariant($", {gap.RepeatedBlocks} FLAC frames among them that repeat what was past");
        if (gap.Frames == 0)
        {
            return new(
                CaptureRepair.Damaged,
                FormattableString.Invariant(
                    $"{bytes} bytes between two FLAC frames at {Seconds(gap.FirstFrame, info)} are no sound{repeats}; they were passed over, and by the frames' numbers nothing is missing."),
                gap.ByteStart,
                gap.FirstFrame)
            { SoundInDoubt = gap.RepeatedBlocks > 0 };
        }

        string what = bytes == 0
            ? "FLAC frames are missing"
            : FormattableString.Invariant($"{bytes} bytes hold no whole FLAC frame{repeats}");
        return new(
            CaptureRepair.Damaged,
            FormattableString.Invariant(
                $"{what}: {gap.Frames} frames of sound, {Seconds(gap.FirstFrame, info)} to {Seconds(gap.FirstFrame + gap.Frames, info)}, were replaced by silence; what follows keeps its place in time."),
            gap.ByteStart,
            gap.FirstFrame)
        { EndFrame = gap.FirstFrame + gap.Frames };
    }

    private static void AddFurther(List<CaptureRepair> repairs, FlacWalk walk, FlacStreamInfo info)
    {
        if (walk.FurtherGaps == 0)
        {
            return;
        }

        FlacGap all = walk.Further;
        repairs.Add(new(
            CaptureRepair.Damaged,
            FormattableString.Invariant(
                $"{walk.FurtherGaps} more such places between {Seconds(all.FirstFrame, info)} and {Seconds(walk.FurtherEndFrame, info)} (bytes {all.ByteStart} to {all.ByteEnd}): {all.Frames} frames of sound ({Seconds(all.Frames, info)}) in all were replaced by silence."),
            all.ByteStart,
            all.FirstFrame)
        {
            EndFrame = walk.FurtherEndFrame > all.FirstFrame ? walk.FurtherEndFrame : null,
            SoundInDoubt = all.Frames > 0 || all.RepeatedBlocks > 0,
        });
    }

    private static void AddEnd(List<CaptureRepair> repairs, FlacWalk walk, FlacStreamInfo info, long fileLength, bool matches)
    {
        long behind = fileLength - walk.SoundEnd;
        string tail = behind == 0 ? "" : FormattableString.Invariant($"; the last {behind} bytes hold no whole FLAC frame that continues it");
        if (walk.Frames > info.TotalFrames && info.TotalFrames > 0)
        {
            repairs.Add(new(
                CaptureRepair.Damaged,
                FormattableString.Invariant(
                    $"STREAMINFO states {info.TotalFrames} frames of sound ({Seconds(info.TotalFrames, info)}), {walk.Frames} ({Seconds(walk.Frames, info)}) are there; all were read."),
                walk.SoundEnd,
                info.TotalFrames));
        }

        if (walk.Frames < info.TotalFrames)
        {
            long missing = info.TotalFrames - walk.Frames;
            repairs.Add(matches
                ? new(
                    CaptureRepair.Damaged,
                    FormattableString.Invariant($"STREAMINFO states {info.TotalFrames} frames of sound, {walk.Frames} are there and match its MD5{tail}."),
                    walk.SoundEnd,
                    walk.Frames)
                : new(
                    CaptureRepair.Truncated,
                    FormattableString.Invariant(
                        $"The sound ends at {Seconds(walk.Frames, info)} (frame {walk.Frames}), {missing} frames ({Seconds(missing, info)}) before the end that STREAMINFO states{tail}. Nothing was put in their place."),
                    walk.SoundEnd,
                    walk.Frames)
                { EndFrame = info.TotalFrames });
        }
        else if (behind > 0)
        {
            repairs.Add(Behind(walk, info, behind, matches));
        }
    }

    private static CaptureRepair Behind(FlacWalk walk, FlacStreamInfo info, long behind, bool matches)
    {
        if (walk.RepeatedAtEnd > 0 || walk.ForeignAtEnd is not null)
        {
            return new(
                CaptureRepair.Damaged,
                FormattableString.Invariant(
                    $"{behind} bytes behind the last FLAC frame that was read hold FLAC frames of what was past already or of another stream; they were not read."),
                walk.SoundEnd,
                walk.Frames);
        }

        if (info.TotalFrames > 0 || matches)
        {
            return new(
                CaptureRepair.Damaged,
                FormattableString.Invariant(
                    $"Something that is no sound ({behind} bytes) follows the last FLAC frame; all the stated sound is there{(matches ? " and matches its MD5" : "")}."),
                walk.SoundEnd,
                walk.Frames)
            { SoundInDoubt = false };
        }

        return new(
            CaptureRepair.Truncated,
            FormattableString.Invariant(
                $"The last {behind} bytes are {(walk.EndsInFrame ? "a FLAC frame that is cut off or damaged" : "no whole FLAC frame")} and the length is not stated: the sound was taken to end at {Seconds(walk.Frames, info)}."),
            walk.SoundEnd,
            walk.Frames);
    }

    private static string Seconds(long frames, FlacStreamInfo info) =>
        FormattableString.Invariant($"{(double)frames / info.SampleRateHz:0.000} s");
}
