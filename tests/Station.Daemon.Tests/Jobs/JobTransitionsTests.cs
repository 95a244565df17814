using Station.Daemon.Jobs;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

public sealed class JobTransitionsTests
{
    // The whole table, this project's own: a state and every state that may follow it.
    private static readonly Dictionary<JobState, JobState[]> Table = new()
    {
        [JobState.Queued] = [JobState.Running, JobState.Failed],
        [JobState.Running] = [JobState.Queued, JobState.Held, JobState.Done, JobState.Duplicate, JobState.Refused, JobState.Failed],
        [JobState.Held] = [JobState.Queued, JobState.Discarded, JobState.Superseded],
        [JobState.Failed] = [JobState.Queued, JobState.Discarded],
        [JobState.Superseded] = [JobState.Queued, JobState.Discarded],
        [JobState.Done] = [JobState.Queued],
        [JobState.Duplicate] = [],
        [JobState.Refused] = [],
        [JobState.Discarded] = [],
    };

    public static TheoryData<string, string, bool> Matrix()
    {
        var rows = new TheoryData<string, string, bool>();
        foreach (JobState from in Enum.GetValues<JobState>())
        {
            foreach (JobState to in Enum.GetValues<JobState>())
            {
                rows.Add(from.ToString(), to.ToString(), Table[from].Contains(to));
            }
        }

        return rows;
    }

    [Theory, MemberData(nameof(Matrix))]
    public void Every_pair_of_states(string from, string to, bool allowed) =>
        Assert.Equal(allowed, JobTransitions.Allows(Enum.Parse<JobState>(from), Enum.Parse<JobState>(to)));

    [Theory]
    [InlineData(nameof(JobState.Queued), false)]
    [InlineData(nameof(JobState.Running), false)]
    [InlineData(nameof(JobState.Held), false)]
    [InlineData(nameof(JobState.Done), true)]
    [InlineData(nameof(JobState.Duplicate), true)]
    [InlineData(nameof(JobState.Refused), true)]
    [InlineData(nameof(JobState.Failed), true)]
    [InlineData(nameof(JobState.Discarded), true)]
    [InlineData(nameof(JobState.Superseded), true)]
    public void What_a_report_calls_finished(string state, bool terminal) => Assert.Equal(terminal, JobTransitions.IsTerminal(Enum.Parse<JobState>(state)));

    [Fact]
    public void Every_state_that_is_not_the_end_leads_to_done()
    {
        foreach (JobState state in Table.Where(row => row.Value.Length > 0).Select(row => row.Key))
        {
            Assert.Contains(JobState.Done, Reachable(state));
        }
    }

    private static HashSet<JobState> Reachable(JobState from)
    {
        var seen = new HashSet<JobState>();
        var open = new Queue<JobState>([from]);
        while (open.TryDequeue(out JobState state))
        {
            foreach (JobState next in Enum.GetValues<JobState>().Where(to => JobTransitions.Allows(state, to) && seen.Add(to)))
            {
                open.Enqueue(next);
            }
        }

        return seen;
    }
}
