using System.Runtime.InteropServices;
using Microsoft.Extensions.Diagnostics.HealthChecks;

namespace Station.Daemon.Status.Health;

/// <summary>Asks the system whether a folder could be written to, without writing.</summary>
internal static partial class FolderAccess
{
    // unistd.h: what access(2) asks for.
    private const int Execute = 1;
    private const int Write = 2;
    private const int Read = 4;

    /// <param name="mustBeReal">A link to a folder is refused.</param>
    public static HealthCheckResult Check(string folder, bool mustBeReal)
    {
        // The answers name no path: who may ask for health need not know where things lie.
        var info = new DirectoryInfo(folder);
        if (!info.Exists)
        {
            return HealthCheckResult.Unhealthy("The folder is not there.");
        }

        if (mustBeReal && info.LinkTarget is not null)
        {
            return HealthCheckResult.Unhealthy("It is a link, not a folder.");
        }

        return MayUse(folder, Read | Write | Execute)
            ? HealthCheckResult.Healthy()
            : HealthCheckResult.Unhealthy(Marshal.GetLastPInvokeErrorMessage() + ".");
    }

    /// <summary>True when the file is there and may be run.</summary>
    public static bool MayRun(string program) => program.Length > 0 && MayUse(program, Execute);

    private static bool MayUse(string path, int mode) => Access(path, mode) == 0;

    /// <summary>access(2): with the process's own rights, and EROFS on a file system mounted read-only.</summary>
    [LibraryImport("libc", EntryPoint = "access", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int Access(string path, int mode);
}
