using Microsoft.Data.Sqlite;
using Station.Archive.Durability;
using Station.Audio.Encoding;

namespace Station.Daemon.Jobs;

/// <summary>What follows from a stage that threw: try again later, or set the job aside. Pure; the runner acts on it.</summary>
internal static class FailurePolicy
{
    /// <summary>First wait; it doubles with each failure up to <see cref="LongestWait"/>.</summary>
    public static readonly TimeSpan FirstWait = TimeSpan.FromSeconds(1);

    public static readonly TimeSpan LongestWait = TimeSpan.FromMinutes(5);

    /// <summary>A failure that may pass by itself is told to a person after this many tries.</summary>
    public const int TriesBeforeAlert = 3;

    /// <param name="error">What the stage threw.</param>
    /// <param name="failures">Failures of this job since its last good stage, without this one.</param>
    /// <param name="triesBeforeSetAside">For errors nobody foresaw.</param>
    /// <param name="jitter">0 to 1: spreads retries of many jobs.</param>
    public static FailureDecision Decide(Exception error, int failures, int triesBeforeSetAside, double jitter)
    {
        int tries = failures + 1;
        TimeSpan wait = WaitAfter(tries, jitter);
        return MayPassByItself(error)
            ? new FailureDecision(SetAside: false, wait, Alert: tries == TriesBeforeAlert)
            : new FailureDecision(SetAside: tries >= triesBeforeSetAside, wait, Alert: false);
    }

    /// <summary>Disk full, no permission, share gone: nothing is wrong with the job, and a person or time can mend it.</summary>
    public static bool MayPassByItself(Exception error) => error switch
    {
        PosixException posix => posix.Errno is not (Errno.NameTooLong or Errno.InvalidArgument or Errno.Exists),
        UnauthorizedAccessException => true,
        FileNotFoundException or DirectoryNotFoundException or NotRegularFileException => false,
        IOException => true,
        EncoderFailedException => true,     // its input is sound that was decoded before: what stops an encoder is a full disk, no memory, a kill
        SqliteException store => store.SqliteErrorCode is Sqlite.Busy or Sqlite.Locked or Sqlite.ReadOnly or Sqlite.InputOutput or Sqlite.Full or Sqlite.CannotOpen,
        _ => false,
    };

    /// <summary>The wait after so many tries: <see cref="FirstWait"/> doubling up to <see cref="LongestWait"/>, a quarter of it left to chance.</summary>
    /// <param name="tries">1 and up.</param>
    /// <param name="jitter">0 to 1.</param>
    public static TimeSpan WaitAfter(int tries, double jitter)
    {
        double seconds = Math.Min(LongestWait.TotalSeconds, FirstWait.TotalSeconds * Math.Pow(2, Math.Min(tries - 1, 20)));
        return TimeSpan.FromSeconds(seconds * (0.75 + (0.25 * jitter)));
    }

    /// <summary>Result codes of SQLite (sqlite.org/rescode.html; second-hand) that space, permission or time can mend.</summary>
    private static class Sqlite
    {
        public const int Busy = 5;
        public const int Locked = 6;
        public const int ReadOnly = 8;
        public const int InputOutput = 10;
        public const int Full = 13;
        public const int CannotOpen = 14;
    }

    /// <summary>Linux error numbers (asm-generic/errno-base.h), the ones a retry can't mend.</summary>
    private static class Errno
    {
        public const int Exists = 17;
        public const int InvalidArgument = 22;
        public const int NameTooLong = 36;
    }
}

/// <param name="SetAside">The job is given up until a person looks.</param>
/// <param name="Wait">Time to the next try.</param>
/// <param name="Alert">Tell a person that the job waits.</param>
internal readonly record struct FailureDecision(bool SetAside, TimeSpan Wait, bool Alert);
