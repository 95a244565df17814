using System.Diagnostics;
using System.Globalization;
using Station.Audio.Encoding;
using Station.Mutation.Campaign;
using Station.Mutation.Checks;
using Station.Mutation.Mutations;
using Station.Mutation.Seeds;

namespace Station.Mutation;

/// <summary>Breaks captures on purpose and looks how they are read.</summary>
internal static class Program
{
    private const int Usage = 64;

    private static async Task<int> Main(string[] arguments)
    {
        switch (arguments)
        {
            case ["campaign", string count, string seed, string findings]:
                var plan = new CampaignPlan(Whole(count), Whole(seed), Environment.ProcessorCount, OpinionEvery: 2, Path.GetFullPath(findings));
                return await new MutationCampaign(plan, Console.Out).RunAsync();
            case ["worker", string folder, string seed, string first, string step, string end, string every]:
                return Worker.Run(folder, Whole(seed), Whole(first), Whole(step), Whole(end), (int)Whole(every));
            case ["one", string seed, string index, string path]:
                return One(new Mutator(SeedFiles.All(CodecTools.FromPath()), Whole(seed)).Make(Whole(index)), Path.GetFullPath(path));
            case ["read", string path]:
                return Read(new MutatedFile(0, SeedFamily.Wave, path, await File.ReadAllBytesAsync(path), 0), Path.GetFullPath(path));
            case ["seeds", string folder, string divisor]:
                return Seeds(folder, (int)Whole(divisor));
            default:
                await Console.Error.WriteLineAsync("""
                    Station.Mutation campaign COUNT SEED FINDINGS   reads COUNT broken files; keeps those that broke something in FINDINGS
                    Station.Mutation one SEED INDEX FILE            makes one of them as FILE and reads it
                    Station.Mutation read FILE                      reads a file that is there, whole
                    Station.Mutation seeds FOLDER DIVISOR           writes the files all of them begin as, shorter by DIVISOR
                    """);
                return Usage;
        }
    }

    private static int One(MutatedFile file, string path)
    {
        file.WriteTo(path);
        int result = Read(file, path);
        file.WriteTo(path);      // the way it was read may have changed it
        return result;
    }

    private static int Read(MutatedFile file, string path)
    {
        ProcessWatch.ResetPeak();
        long residentKib = ProcessWatch.ResidentKib();
        long started = Stopwatch.GetTimestamp();
        FileVerdict verdict = new CaptureCheck(CodecTools.FromPath()).Run(file, path);
        Console.WriteLine(FormattableString.Invariant(
            $"{Stopwatch.GetElapsedTime(started).TotalSeconds:0.000} s, {ProcessWatch.PeakKib() - residentKib} KiB of growth"));
        Console.WriteLine(FormattableString.Invariant($"{file.Recipe}; {CaptureCheck.WayOf(file)}; {verdict.Outcome} {verdict.Format}"));
        Console.WriteLine(verdict.Remark);
        foreach (string fault in verdict.Faults)
        {
            Console.WriteLine(fault);
        }

        return verdict.Faults.Count == 0 ? 0 : 1;
    }

    private static int Seeds(string folder, int divisor)
    {
        Directory.CreateDirectory(folder);
        foreach (SeedFile seed in SeedFiles.All(CodecTools.FromPath(), divisor))
        {
            File.WriteAllBytes(Path.Combine(folder, seed.Name), seed.ToBytes());
        }

        return 0;
    }

    private static long Whole(string text) => long.Parse(text, CultureInfo.InvariantCulture);
}
