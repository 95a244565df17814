using System.Collections.Immutable;
using System.Data;
using System.Reflection;
using Dapper;
using Microsoft.Data.Sqlite;
using Station.Archive.Durability;

namespace Station.Daemon.Jobs.Store;

/// <summary>The store on embedded SQLite: write-ahead log, full sync at every commit, one writer at a time in this process.</summary>
internal sealed partial class SqliteStore : IStationStore, IDisposable
{
    private readonly string _connectionString;
    private readonly TimeProvider _clock;
    private readonly SemaphoreSlim _writeGate = new(1, 1);

    private SqliteStore(string connectionString, TimeProvider clock)
    {
        _connectionString = connectionString;
        _clock = clock;
    }

    /// <summary>Result codes of SQLite for a file that is no database, or no whole one (sqlite.org/rescode.html; second-hand).</summary>
    private const int Corrupt = 11;
    private const int NotADatabase = 26;

    /// <summary>Opens or makes the database and brings its tables up to date.</summary>
    /// <exception cref="StoreDamagedException">The file is damaged.</exception>
    /// <exception cref="SqliteException">The file can't be written.</exception>
    public static SqliteStore Open(string path, TimeProvider clock)
    {
        bool isNew = !File.Exists(path);
        string connectionString = new SqliteConnectionStringBuilder
        {
            DataSource = path,
            ForeignKeys = true,
            Pooling = true,
            DefaultTimeout = 30,
        }.ToString();

        var store = new SqliteStore(connectionString, clock);
        try
        {
            using SqliteConnection connection = store.Connect();
            connection.Execute("PRAGMA journal_mode = WAL;");
            Migrations.Apply(connection);
            Check(connection);
        }
        catch (SqliteException damaged) when (IsDamage(damaged))
        {
            throw Damaged(path, damaged.Message, damaged);
        }

        if (isNew)
        {
            DurableFile.SyncFolder(Path.GetDirectoryName(path)!);
        }

        return store;
    }

    /// <summary>Looks at the small tables that everything hangs on; the results of stages, the bulk of the file, are read when they are asked for.</summary>
    private static void Check(SqliteConnection connection)
    {
        foreach (string table in new[] { "records", "captures", "takes", "take_spans", "jobs", "bag_copies" })
        {
            if (connection.ExecuteScalar<string>($"PRAGMA quick_check({table});") is not "ok" and var found)
            {
                throw Damaged(connection.DataSource, $"{table}: {found?.ReplaceLineEndings(" ")}", inner: null);
            }
        }
    }

    /// <summary>True when the file itself is at fault, and neither space, permission nor another process.</summary>
    internal static bool IsDamage(SqliteException error) => error.SqliteErrorCode is Corrupt or NotADatabase;

    private static StoreDamagedException Damaged(string path, string problem, Exception? inner) => new($"The database {path} is damaged: {problem.TrimEnd('.')}.", inner);

    public async Task PingAsync(CancellationToken cancellationToken)
    {
        using SqliteConnection connection = Connect();
        await connection.ExecuteScalarAsync<long>(new CommandDefinition("SELECT count(*) FROM jobs WHERE state = 'running'", cancellationToken: cancellationToken));
    }

    public void Dispose()
    {
        _writeGate.Dispose();
        using var connection = new SqliteConnection(_connectionString);
        SqliteConnection.ClearPool(connection);
    }

    private SqliteConnection Connect()
    {
        var connection = new SqliteConnection(_connectionString);
        try
        {
            connection.Open();

            // synchronous=FULL: a committed transaction survives a power cut. It is a setting of the connection, not of the file.
            connection.Execute("PRAGMA synchronous = FULL;");
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    }

    /// <summary>Runs a write alone in this process and commits it, or rolls all of it back.</summary>
    private async Task<T> WriteAsync<T>(Func<SqliteConnection, SqliteTransaction, Task<T>> write, CancellationToken cancellationToken)
    {
        await _writeGate.WaitAsync(cancellationToken);
        try
        {
            using SqliteConnection connection = Connect();
            using SqliteTransaction transaction = connection.BeginTransaction(IsolationLevel.Serializable, deferred: false);
            T result = await write(connection, transaction);
            CrashPoints.Reached("database-commit");
            await transaction.CommitAsync(CancellationToken.None);
            CrashPoints.Reached("database-committed");
            return result;
        }
        finally
        {
            _writeGate.Release();
        }
    }

    private async Task<T> ReadAsync<T>(Func<SqliteConnection, Task<T>> read)
    {
        using SqliteConnection connection = Connect();
        return await read(connection);
    }

    private static long Ms(DateTimeOffset at) => at.ToUnixTimeMilliseconds();

    private static DateTimeOffset At(long ms) => DateTimeOffset.FromUnixTimeMilliseconds(ms);

    private static DateTimeOffset? At(long? ms) => ms is { } value ? At(value) : null;

    private static string Text<TEnum>(TEnum value)
        where TEnum : struct, Enum => value.ToString().ToLowerInvariant();

    private static TEnum Parse<TEnum>(string text)
        where TEnum : struct, Enum => Enum.Parse<TEnum>(text, ignoreCase: true);

    /// <summary>Numbered SQL files, applied once each, in order, in one transaction each.</summary>
    private static class Migrations
    {
        private const string Prefix = "Station.Daemon.Jobs.Store.";

        public static void Apply(SqliteConnection connection)
        {
            long current = connection.ExecuteScalar<long>("PRAGMA user_version;");
            ImmutableArray<(long Number, string Sql)> all = Load();
            if (current > all[^1].Number)
            {
                throw new InvalidDataException(
                    $"The database {connection.DataSource} is of version {current}; this program knows versions up to {all[^1].Number}. Use the newer program.");
            }

            foreach ((long number, string sql) in all.Where(m => m.Number > current))
            {
                using SqliteTransaction transaction = connection.BeginTransaction();
                connection.Execute(sql, transaction: transaction);
                connection.Execute(string.Create(System.Globalization.CultureInfo.InvariantCulture, $"PRAGMA user_version = {number};"), transaction: transaction);
                transaction.Commit();
            }
        }

        private static ImmutableArray<(long Number, string Sql)> Load()
        {
            Assembly assembly = typeof(Migrations).Assembly;
            return
            [
                .. assembly.GetManifestResourceNames()
                    .Where(n => n.StartsWith(Prefix, StringComparison.Ordinal) && n.EndsWith(".sql", StringComparison.Ordinal))
                    .Order(StringComparer.Ordinal)
                    .Select(name =>
                    {
                        using var reader = new StreamReader(assembly.GetManifestResourceStream(name)!);
                        return (long.Parse(name.AsSpan(Prefix.Length, 4), System.Globalization.CultureInfo.InvariantCulture), reader.ReadToEnd());
                    }),
            ];
        }
    }
}
