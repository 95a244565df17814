using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

// The way of a capture is this project's own (docs/formats/station.md): intake, inspect, divide, archive, encode, publish.
public sealed class NextStepTests
{
    private static readonly string[] Worked = [StageNames.Inspect, StageNames.Divide, StageNames.Archive, StageNames.Encode, StageNames.Publish];

    public static TheoryData<string, string?, bool, bool, string> Rows() => new()
    {
        // stages done, verdict, accepted by the operator, archive always: what follows
        { "", null, false, false, "run inspect" },
        { "inspect", null, false, false, "run divide" },
        { "inspect divide", "accept", false, false, "run archive" },
        { "inspect divide archive", "accept", false, false, "run encode" },
        { "inspect divide archive encode", "accept", false, false, "run publish" },
        { "inspect divide archive encode publish", "accept", false, false, "complete" },

        { "inspect divide", "review", false, false, "run archive" },
        { "inspect divide archive", "review", false, false, "hold review" },
        { "inspect divide archive", "review", true, false, "run encode" },
        { "inspect divide archive encode publish", "review", true, false, "complete" },

        { "inspect divide", "retake", false, false, "hold retake" },
        { "inspect divide", "retake", true, false, "run archive" },
        { "divide", "retake", true, false, "run inspect" },                    // accepted; its master was not kept while it waited
        { "inspect divide archive", "retake", true, false, "run encode" },
        { "inspect divide", "retake", false, true, "run archive" },            // without a station the master is always kept
        { "inspect divide archive", "retake", false, true, "hold retake" },

        { "inspect archive encode publish", "accept", false, false, "run divide" },
        { "inspect divide encode publish", "accept", false, false, "run archive" },
        { "inspect divide archive publish", "accept", false, false, "run encode" },
    };

    [Theory, MemberData(nameof(Rows))]
    public void What_follows_from_what_is_recorded(string done, string? verdict, bool accepted, bool archiveAlways, string expected) =>
        Assert.Equal(expected, Text(NextStep.After(Job(done.Split(' '), verdict is null ? null : Enum.Parse<Verdict>(verdict, ignoreCase: true), accepted), archiveAlways)));

    [Fact]
    public void No_combination_archives_a_take_to_be_played_again_publishes_an_undecided_one_or_repeats_what_is_done()
    {
        int combinations = 0;
        foreach (string[] done in Subsets())
        {
            foreach (Verdict verdict in Enum.GetValues<Verdict>())
            {
                foreach (bool accepted in new[] { false, true })
                {
                    foreach (bool always in new[] { false, true })
                    {
                        combinations++;
                        string next = Text(NextStep.After(Job(done, verdict, accepted), always));
                        string row = $"{string.Join(' ', done)} | {verdict} accepted={accepted} always={always}: {next}";
                        Assert.False(next.StartsWith("run ", StringComparison.Ordinal) && done.Contains(next[4..]), row);
                        Assert.False(next == "run archive" && verdict == Verdict.Retake && !accepted && !always, row);
                        Assert.False(next is "run encode" or "run publish" or "complete" && verdict != Verdict.Accept && !accepted, row);
                        Assert.False(next.StartsWith("hold", StringComparison.Ordinal) && (accepted || verdict == Verdict.Accept), row);
                        Assert.False(next is "run encode" or "run publish" or "complete" && !done.Contains(StageNames.Archive), row);
                        Assert.False(next == "complete" && done.Length < Worked.Length, row);
                    }
                }
            }
        }

        Assert.Equal(32 * 3 * 2 * 2, combinations);
    }

    [Fact]
    public void Doing_what_it_says_always_comes_to_an_end()
    {
        foreach (Verdict verdict in Enum.GetValues<Verdict>())
        {
            foreach (bool accepted in new[] { false, true })
            {
                var done = new List<string>();
                for (int steps = 0; ; steps++)
                {
                    Assert.True(steps <= Worked.Length, "It goes round.");
                    if (NextStep.After(Job([.. done], done.Contains(StageNames.Divide) ? verdict : null, accepted), archiveAlways: false) is not NextStep.Run run)
                    {
                        break;
                    }

                    done.Add(run.Stage);
                }

                Assert.Equal(Worked.Take(done.Count), done);
            }
        }
    }

    [Fact]
    public void A_divided_job_without_a_verdict_is_a_fault_and_never_an_accept() =>
        Assert.Throws<InvalidOperationException>(() => NextStep.After(Job([StageNames.Inspect, StageNames.Divide], null, accepted: true), archiveAlways: true));

    [Fact]
    public void A_stage_that_was_tried_and_not_done_runs_again()
    {
        Job job = Job([StageNames.Inspect], null, accepted: false);
        job = job with
        {
            Stages = job.Stages.Add(
                StageNames.Divide, new StageRecord(StageNames.Divide, StageOutcomeKind.Retry, 1, TestStation.Start, TestStation.Start, null, "disk full")),
        };
        Assert.Equal("run divide", Text(NextStep.After(job, archiveAlways: false)));
    }

    private static IEnumerable<string[]> Subsets() =>
        Enumerable.Range(0, 1 << Worked.Length).Select(bits => Worked.Where((_, n) => (bits & (1 << n)) != 0).ToArray());

    private static string Text(NextStep next) => next switch
    {
        NextStep.Run run => "run " + run.Stage,
        NextStep.Hold hold => "hold " + hold.Verdict.ToString().ToLowerInvariant(),
        NextStep.Complete => "complete",
        _ => next.ToString(),
    };

    private static Job Job(string[] done, Verdict? verdict, bool accepted) => new()
    {
        Id = new JobId("j"),
        State = JobState.Running,
        Capture = new Capture
        {
            Id = new CaptureId("c"),
            FileName = "HL-0031-A.wav",
            RecordId = "HL-0031",
            Sides = "A",
            Number = 1,
            Bytes = 1,
            ReceivedAt = TestStation.Start,
            Location = "x",
        },
        CreatedAt = TestStation.Start,
        Verdict = verdict,
        AcceptedAt = accepted ? TestStation.Start : null,
        Stages = done.Where(d => d.Length > 0).ToImmutableSortedDictionary(
            d => d, d => new StageRecord(d, StageOutcomeKind.Done, 1, TestStation.Start, TestStation.Start, "{}", null), StringComparer.Ordinal),
    };
}
