using Dapper;
using Microsoft.Data.Sqlite;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs.Store;

/// <summary>The common suite on the embedded database, and what only a file can go wrong with.</summary>
public sealed class SqliteStoreTests : StationStoreTests, IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("stationd-test-").FullName;
    private readonly SqliteStore _store;

    public SqliteStoreTests() => _store = SqliteStore.Open(DatabasePath, Clock);

    private protected override IStationStore Store => _store;

    private string DatabasePath => Path.Combine(_folder, "station.db");

    public void Dispose()
    {
        _store.Dispose();
        TestStation.RemoveFolder(_folder);
    }

    [Fact]
    public async Task Everything_is_there_when_the_file_is_opened_again()
    {
        Job job = await AddOneAsync();
        _store.Dispose();
        using SqliteStore again = SqliteStore.Open(DatabasePath, Clock);
        Assert.Equal(job.Capture, (await again.JobAsync(job.Id, CancellationToken.None))!.Capture);
    }

    [Fact]
    public async Task Two_stores_on_one_file_see_each_other()
    {
        using SqliteStore other = SqliteStore.Open(DatabasePath, Clock);
        Job job = await AddOneAsync();
        Assert.Equal(job.Id, (await other.ClaimAsync("other", Clock.GetUtcNow(), TimeSpan.FromMinutes(1), CancellationToken.None))!.Id);
        Assert.Null(await _store.ClaimAsync("this", Clock.GetUtcNow(), TimeSpan.FromMinutes(1), CancellationToken.None));
    }

    [Fact]
    public void A_database_of_a_newer_program_is_left_alone()
    {
        using (var connection = new SqliteConnection($"Data Source={DatabasePath};Pooling=False"))
        {
            connection.Execute("PRAGMA user_version = 9999;");
        }

        InvalidDataException refused = Assert.Throws<InvalidDataException>(() => SqliteStore.Open(DatabasePath, Clock));
        Assert.Contains("9999", refused.Message, StringComparison.Ordinal);
        Assert.Contains("Use the newer program", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_file_that_is_no_database_is_refused_and_not_touched()
    {
        string path = Path.Combine(_folder, "other.db");
        byte[] content = [.. Enumerable.Range(0, 8192).Select(n => (byte)(n * 7))];
        File.WriteAllBytes(path, content);
        Assert.Contains("stationd state rebuild", Assert.Throws<StoreDamagedException>(() => SqliteStore.Open(path, Clock)).Message, StringComparison.Ordinal);
        Assert.Equal(content, File.ReadAllBytes(path));
    }

    [Fact]
    public void Commits_are_synced_and_readers_are_not_blocked_by_the_writer()
    {
        using var connection = new SqliteConnection($"Data Source={DatabasePath};Pooling=False");
        // sqlite.org/pragma.html (second-hand): journal_mode WAL lasts in the file.
        Assert.Equal("wal", connection.ExecuteScalar<string>("PRAGMA journal_mode;"));
        Assert.Empty(connection.Query("PRAGMA foreign_key_check;"));
        Assert.Equal("ok", connection.ExecuteScalar<string>("PRAGMA integrity_check;"));
    }

    [Fact]
    public async Task A_write_that_is_cancelled_before_it_begins_leaves_nothing_and_blocks_nobody()
    {
        using var cancelled = new CancellationTokenSource();
        await cancelled.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _store.RequeueAbandonedAsync(true, Clock.GetUtcNow(), cancelled.Token));
        Assert.Equal(1, (await AddOneAsync()).Capture.Number);
    }

    private Task<Job> AddOneAsync() => _store.AddCaptureAsync(
        new NewCapture(JobId.New(Clock.GetUtcNow()), "HL-0031-A.wav", "HL-0031", "A", null, false, 10, "working/x", Clock.GetUtcNow()), CancellationToken.None);
}
