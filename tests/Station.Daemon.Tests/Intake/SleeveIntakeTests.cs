using System.Security.Cryptography;
using Station.Archive.Events;
using Station.Daemon.Intake;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Station.Daemon.Tests.Records;
using Xunit;

namespace Station.Daemon.Tests.Intake;

public sealed class SleeveIntakeTests : IDisposable
{
    private static readonly byte[] Jpeg = PictureFileTests.Jpeg;
    private static readonly byte[] Png = PictureFileTests.Png;
    private readonly InboxFixture _inbox = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    [Fact]
    public async Task A_picture_is_kept_byte_for_byte_in_the_archive_history_and_store()
    {
        await _inbox.TakeAsync("HL-0031.sleeve.jpg", Jpeg);
        string sha256 = Convert.ToHexStringLower(SHA256.HashData(Jpeg));
        StoredSleeve sleeve = (await Station.Store.SleeveAsync("HL-0031", CancellationToken.None))!;
        Assert.Equal(($"archive/HL-0031/sleeve-{sha256[..16]}.jpg", sha256, (long)Jpeg.Length, "image/jpeg", 36, 20),
            (sleeve.Path, sleeve.Sha256, sleeve.Bytes, sleeve.MediaType, sleeve.WidthPixels, sleeve.HeightPixels));
        Assert.Equal(Jpeg, await File.ReadAllBytesAsync(Station.Folders.Absolute(sleeve.Path)));
        RecordEvent told = Assert.Single(EventLog.Read(Station.Folders.EventLog("HL-0031"), out _));
        Assert.Equal(("sleeve picture received", sha256, $"sleeve-{sha256[..16]}.jpg"), (told.Type, (string?)told.Details!["sha256"], (string?)told.Details["picture"]));
        Assert.Empty(_inbox.InInbox());
    }

    [Fact]
    public async Task The_newest_is_in_force_and_no_earlier_one_is_written_over()
    {
        await _inbox.TakeAsync("HL-0031.sleeve.jpg", Jpeg);
        await _inbox.TakeAsync("HL-0031.sleeve.png", Png);
        await _inbox.TakeAsync("HL-0031.sleeve.png", Png);
        Assert.Equal("image/png", (await Station.Store.SleeveAsync("HL-0031", CancellationToken.None))!.MediaType);
        Assert.Equal(2, Directory.GetFiles(Station.Folders.RecordArchive("HL-0031"), "sleeve-*").Length);
        await _inbox.TakeAsync("HL-0031.sleeve.jpeg", Jpeg);
        Assert.Equal("image/jpeg", (await Station.Store.SleeveAsync("HL-0031", CancellationToken.None))!.MediaType);
        Assert.Equal(3, EventLog.Read(Station.Folders.EventLog("HL-0031"), out _).Count);
    }

    [Fact]
    public async Task A_picture_under_the_other_kinds_name_is_taken_as_what_it_is()
    {
        await _inbox.TakeAsync("HL-0031.sleeve.jpg", Png);
        StoredSleeve sleeve = (await Station.Store.SleeveAsync("HL-0031", CancellationToken.None))!;
        Assert.Equal(("image/png", ".png"), (sleeve.MediaType, Path.GetExtension(sleeve.Path)));
    }

    [Fact]
    public async Task A_kept_picture_that_was_damaged_is_written_anew()
    {
        await _inbox.TakeAsync("HL-0031.sleeve.jpg", Jpeg);
        string path = Station.Folders.Absolute((await Station.Store.SleeveAsync("HL-0031", CancellationToken.None))!.Path);
        await File.WriteAllBytesAsync(path, Jpeg[..^3]);
        await _inbox.TakeAsync("HL-0031.sleeve.jpg", Jpeg);
        Assert.Equal(Jpeg, await File.ReadAllBytesAsync(path));
    }

    [Theory]
    [InlineData("HL-0031.sleeve.jpg", "text")]
    [InlineData("HL-0031.sleeve.png", "cut")]
    [InlineData("HL-0031.sleeve.jpg", "pixels")]
    [InlineData("HL-0031.sleeve.png", "bytes")]
    [InlineData("HL-0031.sleeve.jpg", "empty")]
    public async Task What_is_no_picture_or_too_large_is_refused_whole(string name, string what)
    {
        var options = new IntakeOptions { MaxSleevePixels = what == "pixels" ? 10_000 : 100_000_000, MaxSleeveBytes = 65_536 };
        byte[] large = [.. Jpeg];
        large[large.AsSpan().IndexOf((ReadOnlySpan<byte>)[0xFF, 0xC0]) + 5] = 0x40;      // 16 404 lines
        byte[] content = what switch
        {
            "text" => "<svg/>"u8.ToArray(),
            "cut" => Png[..^20],
            "pixels" => large,
            "bytes" => [.. Png, .. new byte[65_536]],
            _ => [],
        };
        await _inbox.TakeAsync(name, content, options: options);
        Assert.Null(await Station.Store.SleeveAsync("HL-0031", CancellationToken.None));
        Assert.Equal(content, await File.ReadAllBytesAsync(Path.Combine(Station.Folders.Refused, name)));
        Assert.StartsWith(name + ": ", _inbox.Reason(name), StringComparison.Ordinal);
        Assert.False(Directory.Exists(Station.Folders.RecordArchive("HL-0031")));
    }

    [Fact]
    public async Task A_picture_of_fifty_megabytes_is_refused_with_its_size_and_the_limit()
    {
        byte[] content = new byte[50_000_000];
        Png.CopyTo(content, 0);
        await _inbox.TakeAsync("HL-0031.sleeve.png", content);
        Assert.Null(await Station.Store.SleeveAsync("HL-0031", CancellationToken.None));
        Assert.Equal(content.Length, new FileInfo(Path.Combine(Station.Folders.Refused, "HL-0031.sleeve.png")).Length);
        string reason = _inbox.Reason("HL-0031.sleeve.png");
        Assert.Contains("50000000", reason.Replace(",", "", StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Contains("16777216", reason.Replace(",", "", StringComparison.Ordinal), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_picture_killed_at_any_step_is_taken_again_and_told_once()
    {
        for (int dieAt = 1; dieAt <= 2; dieAt++)
        {
            foreach (bool afterwards in new[] { false, true })
            {
                await Assert.ThrowsAsync<StoreDiedException>(() => _inbox.TakeAsync("HL-0031.sleeve.jpg", Jpeg, DyingStore.Over(Station.Store, dieAt, afterwards)));
                Assert.Equal(["HL-0031.sleeve.jpg"], _inbox.InInbox());
            }
        }

        await _inbox.TakeAsync("HL-0031.sleeve.jpg", Jpeg);
        Assert.Single(EventLog.Read(Station.Folders.EventLog("HL-0031"), out _));
        Assert.Single(Directory.GetFiles(Station.Folders.RecordArchive("HL-0031"), "sleeve-*"));
    }
}
