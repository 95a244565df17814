using System.Globalization;

namespace Station.Mutation.Campaign;

/// <summary>What this process holds, asked of the kernel (proc(5)) rather than of the runtime.</summary>
internal static class ProcessWatch
{
    /// <summary>Makes the peak of the working set start again from what it is now.</summary>
    public static void ResetPeak() => File.WriteAllText("/proc/self/clear_refs", "5");

    /// <summary>Working set, KiB.</summary>
    public static long ResidentKib() => Status("VmRSS:");

    /// <summary>Largest working set since <see cref="ResetPeak"/>, KiB.</summary>
    public static long PeakKib() => Status("VmHWM:");

    /// <summary>Open file descriptors as "number target"; without the one that lists them and without assemblies, which are loaded when first needed.</summary>
    public static HashSet<string> OpenHandles() =>
    [
        .. Directory.EnumerateFileSystemEntries("/proc/self/fd")
            .Select(path => (Name: Path.GetFileName(path), Target: Target(path)))
            .Where(h => h.Target is not null && !h.Target.EndsWith(".dll", StringComparison.Ordinal) && !h.Target.EndsWith("/fd", StringComparison.Ordinal))
            .Select(h => $"{h.Name} {h.Target}"),
    ];

    /// <summary>Child processes, ended ones nobody waited for included.</summary>
    public static int Children()
    {
        int children = 0;
        string self = Environment.ProcessId.ToString(CultureInfo.InvariantCulture);
        foreach (string folder in Directory.EnumerateDirectories("/proc"))
        {
            if (char.IsAsciiDigit(Path.GetFileName(folder)[0]) && ParentOf(folder) == self)
            {
                children++;
            }
        }

        return children;
    }

    private static string? Target(string path)
    {
        try
        {
            return new FileInfo(path).LinkTarget;
        }
        catch (IOException)
        {
            return null;      // closed meanwhile
        }
    }

    private static string? ParentOf(string folder)
    {
        try
        {
            // "pid (name) state parent …"; the name may hold anything, a closing bracket too.
            string stat = File.ReadAllText(Path.Combine(folder, "stat"));
            return stat[(stat.LastIndexOf(')') + 2)..].Split(' ')[1];
        }
        catch (IOException)
        {
            return null;      // it ended meanwhile
        }
    }

    private static long Status(string key)
    {
        foreach (string line in File.ReadLines("/proc/self/status"))
        {
            if (line.StartsWith(key, StringComparison.Ordinal))
            {
                return long.Parse(line[key.Length..^2].Trim(), CultureInfo.InvariantCulture);
            }
        }

        throw new InvalidOperationException($"/proc/self/status has no {key}");
    }
}
