using System.Diagnostics;
using Station.Audio.Encoding;
using Station.Audio.Reading;
using Station.Mutation.Checks;
using Station.Mutation.Mutations;
using Station.Mutation.Seeds;

namespace Station.Mutation.Campaign;

/// <summary>
/// Reads every STEP-th file of a campaign in a process of its own and writes a line before and after each, so that whoever started it
/// knows at which file it died or stopped. The lines: <c>S index</c>, <c>F index fault</c>, <c>E index outcome family ms peakKiB allocatedKiB opinion</c>.
/// </summary>
internal static class Worker
{
    /// <summary>What the service may grow by for one file (the reader's promise), KiB.</summary>
    private const long MaxGrowthKib = 64 * 1024;

    /// <summary>Managed allocations for one file: a few buffers of <c>MaxBlockFrames</c>, never anything that grows with a stated length.</summary>
    private const long MaxAllocatedKib = 16 * 1024;

    /// <summary>What may be left in the heap at the end, caches included.</summary>
    private const long MaxLeftKib = 4 * 1024;

    public static int Run(string folder, long seed, long first, long step, long end, int opinionEvery)
    {
        CodecTools codecs = CodecTools.FromPath();
        IReadOnlyList<SeedFile> seeds = SeedFiles.All(codecs);
        var mutator = new Mutator(seeds, seed);
        var check = new CaptureCheck(codecs);
        string path = Path.Combine(folder, FormattableString.Invariant($"m-{first % step}"));
        WarmUp(seeds, check, path);
        long heapKib = GC.GetTotalMemory(forceFullCollection: true) / 1024;

        for (long index = first; index < end; index += step)
        {
            Say($"S {index}");
            One(mutator.Make(index), check, path, opinionEvery);
        }

        long leftKib = (GC.GetTotalMemory(forceFullCollection: true) / 1024) - heapKib;
        if (leftKib > MaxLeftKib)
        {
            Say($"F -1 {leftKib} KiB more in the heap after the last file than before the first");
        }

        File.Delete(path);
        return 0;
    }

    private static void One(MutatedFile file, CaptureCheck check, string path, int opinionEvery)
    {
        file.WriteTo(path);
        HashSet<string> handles = ProcessWatch.OpenHandles();
        ProcessWatch.ResetPeak();
        long residentKib = ProcessWatch.ResidentKib();
        long allocated = GC.GetTotalAllocatedBytes(precise: true);
        long started = Stopwatch.GetTimestamp();

        FileVerdict verdict = check.Run(file, path);

        double milliseconds = Stopwatch.GetElapsedTime(started).TotalMilliseconds;
        long allocatedKib = (GC.GetTotalAllocatedBytes(precise: true) - allocated) / 1024;
        long grownKib = ProcessWatch.PeakKib() - residentKib;
        List<string> faults = [.. verdict.Faults];
        Limit(faults, "KiB of growth", grownKib, MaxGrowthKib);
        Limit(faults, "KiB allocated", allocatedKib, MaxAllocatedKib);
        Limit(faults, "child processes", Settled(ProcessWatch.Children, children => children > 0), 0);
        HashSet<string> left = Settled(ProcessWatch.OpenHandles, open => !open.IsSubsetOf(handles));
        if (!left.IsSubsetOf(handles))
        {
            faults.Add($"still open: {string.Join(", ", left.Except(handles, StringComparer.Ordinal))}");
        }

        string opinion = "-";
        if (opinionEvery > 0 && file.Index % opinionEvery == 0 && verdict.SoundIsSure)
        {
            opinion = Compare(file, verdict, path, faults);
        }

        foreach (string fault in faults)
        {
            Say($"F {file.Index} {fault}");
        }

        Say($"E {file.Index} {verdict.Outcome} {verdict.Format?.Container ?? "none"} {milliseconds:0.0} {grownKib} {allocatedKib} {opinion}");
    }

    private static string Compare(MutatedFile file, FileVerdict verdict, string path, List<string> faults)
    {
        CaptureFormat format = verdict.Format!;
        if (CaptureCheck.WayOf(file) != ReadingWay.ToTheEnd || SecondOpinion.IsNotFitFor(format, file.Content))
        {
            return "-";
        }

        if (SecondOpinion.Of(path, format) is not { } other)
        {
            return "refused";
        }

        if (other.Sha256 == verdict.WordsSha256)
        {
            return "same";
        }

        if (format.Container == "flac" && FlacStatement.Of(file.Content)?.Md5 is not null)
        {
            // The words were compared with the file's own MD5 (RFC 9639 §8.2): the sound is right, whatever ffmpeg makes of the header.
            return "refuted-by-MD5";
        }

        if (verdict.Outcome == Outcome.TakenWithRepairs)
        {
            return "differs-as-said";
        }

        long ours = format.Frames * format.BytesPerFrame;
        faults.Add($"taken without a repair with {ours} bytes of {format.EncodingName}; ffmpeg finds {other.Bytes} bytes{(ours == other.Bytes ? " of other sound" : "")}");
        return "differs";
    }

    private static void Limit(List<string> faults, string what, long value, long limit)
    {
        if (value > limit)
        {
            faults.Add(FormattableString.Invariant($"{value} {what}, at most {limit}"));
        }
    }

    /// <summary>The kernel may need a moment to let go; a finalizer's help is not waited for.</summary>
    private static T Settled<T>(Func<T> look, Predicate<T> unsettled)
    {
        T value = look();
        for (int i = 0; i < 50 && unsettled(value); i++)
        {
            Task.Delay(TimeSpan.FromMilliseconds(20), TimeProvider.System, CancellationToken.None).GetAwaiter().GetResult();
            value = look();
        }

        return value;
    }

    /// <summary>Compiles and opens once what is opened once per process, so that the first file is measured like the last.</summary>
    private static void WarmUp(IReadOnlyList<SeedFile> seeds, CaptureCheck check, string path)
    {
        for (int i = 0; i < seeds.Count; i++)
        {
            var file = new MutatedFile(0, seeds[i].Family, seeds[i].Name, seeds[i].ToBytes(), 0);
            file.WriteTo(path);
            check.Run(file, path);
        }

        ProcessWatch.ResetPeak();
        ProcessWatch.PeakKib();
        ProcessWatch.Children();
        ProcessWatch.OpenHandles();
    }

    private static void Say(FormattableString line)
    {
        Console.Out.WriteLine(FormattableString.Invariant(line).ReplaceLineEndings(" | "));
        Console.Out.Flush();
    }
}
