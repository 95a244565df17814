namespace Station.Daemon.Listening;

/// <summary>Names of the service's own in the listening folder.</summary>
internal static class ListeningPaths
{
    /// <summary>What a record's folder says of itself; written last.</summary>
    public const string RecordFile = "record.json";

    /// <summary>The sleeve's picture beside the copies.</summary>
    /// <param name="mediaType"><c>image/jpeg</c> or <c>image/png</c>.</param>
    public static string CoverName(string mediaType) => mediaType == "image/png" ? "cover.png" : "cover.jpg";

    /// <summary>No artist's folder can begin so: safe names never begin with a dot.</summary>
    public const string StagingPrefix = ".staging-";

    /// <summary>Inside a staging folder: files of an older take that gave way, until the job is done.</summary>
    public const string ReplacedFolder = ".replaced";

    /// <summary>The folder where one job prepares its files, on the same file system as their targets.</summary>
    /// <param name="root">The listening folder.</param>
    /// <param name="jobId">1 to 64 ASCII letters, digits, hyphens.</param>
    public static string Staging(string root, string jobId)
    {
        if (jobId.Length is 0 or > 64 || !jobId.All(c => char.IsAsciiLetterOrDigit(c) || c == '-'))
        {
            throw new ArgumentException("A job id has 1 to 64 letters, digits and hyphens.", nameof(jobId));
        }

        return Path.Combine(root, StagingPrefix + jobId);
    }

    /// <summary>What publishes one side of a capture: the job, or, where the capture holds several sides, the job and the side, each with a staging folder of its own.</summary>
    /// <param name="jobId">1 to 60 letters, digits, hyphens.</param>
    /// <param name="sides">All letters of the capture.</param>
    /// <param name="side">One of them.</param>
    public static string PublicationId(string jobId, string sides, string side) => sides.Length == 1 ? jobId : $"{jobId}-{side}";

    /// <summary>True for a path with a staging folder above its last part.</summary>
    public static bool IsInStaging(string path) =>
        path.Split(Path.DirectorySeparatorChar).SkipLast(1).Any(part => part.StartsWith(StagingPrefix, StringComparison.Ordinal));

    /// <summary>Job ids of the staging folders that are there: what to finish or clear away after a restart.</summary>
    public static IReadOnlyList<string> StagedJobs(string root) =>
    [
        .. Directory.EnumerateDirectories(root, StagingPrefix + "*")
            .Select(path => Path.GetFileName(path)[StagingPrefix.Length..])
            .Order(StringComparer.Ordinal),
    ];
}
