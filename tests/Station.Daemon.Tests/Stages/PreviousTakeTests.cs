using System.Buffers.Binary;
using Microsoft.Extensions.DependencyInjection;
using Station.Audio.Findings;
using Station.Daemon.Commands;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>A second take with the level turned down behind the clipping: the advice must not be to turn it down once more.</summary>
public sealed class PreviousTakeTests : IAsyncDisposable
{
    private const int HeaderBytes = 44;
    private readonly TestStation _station = new();
    private readonly ServiceProvider _services;

    public PreviousTakeTests() => _services = StationSetup.Pipeline(new StationConfiguration(), _station.Folders, _station.Store, JobPolicy.Service);

    public async ValueTask DisposeAsync()
    {
        await _services.DisposeAsync();
        _station.Dispose();
    }

    [Fact]
    public async Task Lower_peaks_that_are_still_flat_say_that_the_level_control_is_not_the_cure()
    {
        Finding first = await UpstreamAsync(0.5);
        Finding second = await UpstreamAsync(0.25);

        // Turned down by half, 6.02 dB (arithmetic): more than measuring could be wrong by.
        Assert.DoesNotContain("isn't the cure", first.Message + first.Advice, StringComparison.Ordinal);
        Assert.Contains("isn't the cure", second.Message + second.Advice, StringComparison.Ordinal);
    }

    private async Task<Finding> UpstreamAsync(double gain)
    {
        byte[] wav = [.. DemoSide.TooLoud];
        for (int at = HeaderBytes; at + 1 < wav.Length; at += 2)
        {
            Span<byte> word = wav.AsSpan(at, 2);
            BinaryPrimitives.WriteInt16LittleEndian(word, (short)Math.Round(gain * BinaryPrimitives.ReadInt16LittleEndian(word)));
        }

        _station.Clock.Advance(TimeSpan.FromMinutes(1));
        JobId id = (await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", wav)).Id;
        Job claimed = (await _station.ClaimAsync())!;
        await _services.GetRequiredService<JobRunner>().RunAsync(claimed, CancellationToken.None);
        Job job = await _station.LoadAsync(id);
        Assert.Null(job.Inspected()!.Level.RecommendedChangeDb);
        return Assert.Single(job.AllFindings(), finding => finding.Code == FindingCodes.ClippedUpstream);
    }
}
