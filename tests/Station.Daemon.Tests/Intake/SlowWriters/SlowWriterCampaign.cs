using System.Collections.Immutable;
using System.Security.Cryptography;
using Station.Archive.Durability;
using Station.Daemon.Intake;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Tests.Intake.SlowWriters;

/// <summary>Many slow writers at one inbox, on clocks that go as the test says, with sweeps in between.</summary>
internal static class SlowWriterCampaign
{
    /// <param name="options">How patient the inbox is; the writers keep to <see cref="InboxFixture"/>'s times.</param>
    /// <returns>What went wrong, one line each; and how many of which pattern were taken.</returns>
    public static async Task<(List<string> Wrong, Dictionary<string, int> Taken)> RunAsync(int seed, int writers, IntakeOptions options)
    {
        var random = new Random(seed);
        using var fixture = new InboxFixture();
        var clock = new CampaignClock();
        InboxSweep sweep = fixture.Make(fixture.Station.Store, options, clock: clock);
        string elsewhere = Directory.CreateDirectory(fixture.Station.Beside("elsewhere")).FullName;
        var wrong = new List<string>();
        var taken = new Dictionary<string, int>(StringComparer.Ordinal);
        var all = new List<SlowWriter>();
        var due = new PriorityQueue<(SlowWriter Writer, IEnumerator<double> Life), double>();
        for (int n = 0; n < writers; n++)
        {
            var writer = new SlowWriter(n, fixture.Inbox, elsewhere, clock, new Random(random.Next()));
            all.Add(writer);
            due.Enqueue((writer, writer.Live(SlowWriter.Patterns[n % SlowWriter.Patterns.Length]).GetEnumerator()), random.NextDouble() * 30);
        }

        double now = 0;
        double nextSweep = 0;
        double end = double.MaxValue;
        while (all.Exists(w => !w.Taken) && now < end)
        {
            double next = due.TryPeek(out _, out double step) ? Math.Min(step, nextSweep) : nextSweep;
            clock.Advance(TimeSpan.FromSeconds(next - now));
            now = next;
            if (due.Count > 0 && step <= nextSweep)
            {
                (SlowWriter writer, IEnumerator<double> life) = due.Dequeue();
                if (!writer.Taken && life.MoveNext())
                {
                    due.Enqueue((writer, life), now + life.Current);
                }
                else
                {
                    life.Dispose();
                }

                end = due.Count == 0 ? now + (3 * InboxFixture.UnfinishedQuietSeconds) : end;
                continue;
            }

            // Brought forward now and then, as change events do; and the machine's clock is set wrongly, and right again.
            nextSweep = now + (options.SweepSeconds * (0.2 + (0.8 * random.NextDouble())));
            if (random.Next(40) == 0)
            {
                clock.SetWall(TimeSpan.FromDays(random.Next(-4000, 4000)));
            }

            if (await sweep.RunAsync(CancellationToken.None) > 0)
            {
                await LookAtTakenAsync(fixture, all, wrong, taken);
            }
        }

        wrong.AddRange(all.Where(w => !w.Taken).Select(w => $"{w.FileName}, {w.Pattern}: never taken"));
        wrong.AddRange(fixture.InInbox().Select(name => $"{name}: left behind"));
        return (wrong, taken);
    }

    private static async Task LookAtTakenAsync(InboxFixture fixture, List<SlowWriter> all, List<string> wrong, Dictionary<string, int> taken)
    {
        ImmutableArray<Job> jobs = await fixture.Station.Store.JobsAsync(new JobQuery(Limit: 500), CancellationToken.None);
        Dictionary<string, Job> byFile = jobs.ToDictionary(j => j.Capture.FileName, StringComparer.Ordinal);
        foreach (SlowWriter writer in all.Where(w => !w.Taken && byFile.ContainsKey(w.FileName)))
        {
            writer.Taken = true;
            taken[writer.Pattern] = taken.GetValueOrDefault(writer.Pattern) + 1;
            string path = fixture.Station.Folders.Absolute(byFile[writer.FileName].Capture.Location);
            string found = Convert.ToHexString(SHA256.HashData(await File.ReadAllBytesAsync(path)));
            if (!writer.Finished)
            {
                wrong.Add($"{writer.FileName}, {writer.Pattern}: taken before its last write");
            }
            else if (found != writer.Whole[^1])
            {
                wrong.Add($"{writer.FileName}, {writer.Pattern}: not the version written last");
            }

            if (SafeOpen.TryLook(path)!.Value.LinkCount != 1)
            {
                wrong.Add($"{writer.FileName}, {writer.Pattern}: still has another name");
            }
        }
    }
}
