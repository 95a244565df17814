using Station.Mutation.Checks;
using Station.Mutation.Mutations;
using Station.Mutation.Seeds;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>A share of tests/mutation-campaign.sh that every run of the suite has time for: same files, same promises, without its watch over the process.</summary>
public sealed class MutationShareTests : IDisposable
{
    private const long Seed = 31;
    private const int Files = 600;

    private readonly TestFolder _folder = new();

    [Fact]
    public void Six_hundred_broken_files_break_no_promise()
    {
        var mutator = new Mutator(SeedFiles.All(ReadResult.Codecs), Seed);
        var check = new CaptureCheck(ReadResult.Codecs);
        string path = _folder.New(".wav");
        List<string> faults = [];
        HashSet<Outcome> outcomes = [];
        for (long index = 0; index < Files; index++)
        {
            MutatedFile file = mutator.Make(index);
            file.WriteTo(path);
            FileVerdict verdict = check.Run(file, path);
            outcomes.Add(verdict.Outcome);
            faults.AddRange(verdict.Faults.Select(f => FormattableString.Invariant($"file {index} ({file.Recipe}): {f}")));
        }

        Assert.Empty(faults);

        // A mutator that leaves nothing to read, or nothing broken, would make the check above worthless.
        Assert.Equal(Enum.GetValues<Outcome>().Order(), outcomes.Order());
    }

    [Fact]
    public void A_file_of_a_campaign_is_the_same_whenever_it_is_made()
    {
        var one = new Mutator(SeedFiles.All(ReadResult.Codecs), Seed);
        var other = new Mutator(SeedFiles.All(ReadResult.Codecs), Seed);
        one.Make(3);
        Assert.Equal(one.Make(17).Content, other.Make(17).Content);
        Assert.NotEqual(one.Make(17).Content, one.Make(18).Content);
        Assert.NotEqual(one.Make(17).Content, new Mutator(SeedFiles.All(ReadResult.Codecs), Seed + 1).Make(17).Content);
    }

    /// <summary>The reference encoder's own checksums are the oracle.</summary>
    [Fact]
    public void Checksums_that_are_right_are_not_changed_and_wrong_ones_become_right()
    {
        foreach (SeedFile seed in SeedFiles.All(ReadResult.Codecs).Where(s => s.Family == SeedFamily.Flac && s.Sound))
        {
            byte[] file = seed.ToBytes();
            byte[] copy = [.. file];
            copy[^1] ^= 0x55;
            FlacChecksums.PutRight(copy);
            Assert.Equal(file, copy);
        }
    }

    [Fact]
    public void Whole_files_of_every_format_are_taken_without_a_repair()
    {
        var check = new CaptureCheck(ReadResult.Codecs);
        foreach (SeedFile seed in SeedFiles.All(ReadResult.Codecs))
        {
            var file = new MutatedFile(0, seed.Family, seed.Name, seed.ToBytes(), 0);
            string path = _folder.New(".wav");
            file.WriteTo(path);
            FileVerdict verdict = check.Run(file, path);
            Assert.True(verdict.Faults.Count == 0 && verdict.Outcome == (seed.Sound ? Outcome.Taken : Outcome.TakenWithRepairs), $"{seed.Name}: {verdict}");
        }
    }

    public void Dispose() => _folder.Dispose();
}
