using System.Text.Json;
using System.Text.RegularExpressions;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Commands;

/// <summary><c>stationd verify [PATH]</c>: checks one bag, or every bag below a folder, without the service and its database.</summary>
internal static partial class VerifyCommand
{
    /// <summary>Bags lie at archive/&lt;record&gt;/&lt;bag&gt;; deeper folders are not searched.</summary>
    private const int MaxDepth = 3;

    /// <summary>What a check came to.</summary>
    private enum Standing
    {
        /// <summary>Every digest is right.</summary>
        Valid,

        /// <summary>Nothing is wrong with names and sizes; no digest was compared, so it is not known whether the bag is valid.</summary>
        NamesAndSizesRight,

        /// <summary>Valid by the standard, but no longer as this program wrote it: a file beside the payload was added, a list exchanged.</summary>
        Changed,

        NotValid,
    }

    public static int Run(string path, bool quick, VerifyPart part, bool json, CancellationToken cancellationToken)
    {
        string root = Path.GetFullPath(path);
        if (!Directory.Exists(root))
        {
            Console.Error.WriteLine($"{path}: there is no such folder.");
            return ExitCodes.Usage;
        }

        int bags = 0;
        int bad = 0;
        bool any = false;
        var unreadable = new List<string>();
        foreach (string bag in Bags(root, 0, unreadable))
        {
            cancellationToken.ThrowIfCancellationRequested();
            any = true;
            if (!part.Includes(bag))
            {
                continue;
            }

            bags++;
            BagCheck check = BagReader.Check(bag, quick ? BagDepth.Quick : BagDepth.Full, cancellationToken);
            Standing standing = Judge(bag, check, quick);
            bad += IsGood(standing) ? 0 : 1;
            Tell(bag, check, standing, quick, json);
        }

        foreach (string problem in unreadable)
        {
            Console.Error.WriteLine(problem);
        }

        if (!any && unreadable.Count == 0)
        {
            Console.Error.WriteLine($"{path}: no bag is there.");
            return ExitCodes.Usage;
        }

        if (!json)
        {
            Console.WriteLine(quick
                ? FormattableString.Invariant($"{bags} bags looked at by names and sizes, no digest compared; {bad} damaged")
                : FormattableString.Invariant($"{bags} bags checked, {bad} not valid"));
        }

        return bad > 0 ? ExitCodes.NotValid : unreadable.Count > 0 ? ExitCodes.Failure : 0;
    }

    private static Standing Judge(string bag, BagCheck check, bool quick)
    {
        if (!check.IsValid)
        {
            return Standing.NotValid;
        }

        // Warnings are the standard's latitude for bags of others; a bag of this program's own has none as long as nobody changed it.
        return !check.IsPristine && IsOwn(bag) ? Standing.Changed : quick ? Standing.NamesAndSizesRight : Standing.Valid;
    }

    private static bool IsGood(Standing standing) => standing is Standing.Valid or Standing.NamesAndSizesRight;

    /// <summary>Did this program write the bag? Asked only of bags without a fault: what says so is guarded by digests.</summary>
    private static bool IsOwn(string bag) =>
        File.Exists(Path.Combine(bag, "data", "original.json"))
        || (File.Exists(Path.Combine(bag, "bag-info.txt"))
            && BagReader.ReadInfoElements(bag).Any(e => e.Label == "Bag-Software-Agent" && e.Value.StartsWith(SoftwareVersion.Name, StringComparison.Ordinal)));

    private static IEnumerable<string> Bags(string folder, int depth, List<string> unreadable)
    {
        string[] entries;
        try
        {
            entries = Directory.GetFileSystemEntries(folder);
        }
        catch (Exception error) when (error is UnauthorizedAccessException or IOException)
        {
            unreadable.Add($"{PathText.Printable(folder)}: can't be read, so it is not known whether bags are there: {error.Message}");
            yield break;
        }

        if (entries.Any(e => TagFileName().IsMatch(Path.GetFileName(e))))
        {
            yield return folder;
            yield break;
        }

        bool found = false;
        foreach (string inner in entries.Where(IsSearched).Order(StringComparer.Ordinal).TakeWhile(_ => depth < MaxDepth))
        {
            foreach (string bag in Bags(inner, depth + 1, unreadable))
            {
                found = true;
                yield return bag;
            }
        }

        // All that a bag is known by is gone, but not its folder.
        if (!found && BagName().IsMatch(Path.GetFileName(folder)))
        {
            yield return folder;
        }
    }

    private static bool IsSearched(string path) =>
        Directory.Exists(path) && !Path.GetFileName(path).StartsWith('.') && !FileSystemFolders.IsOwn(path) && new FileInfo(path).LinkTarget is null;

    private static void Tell(string bag, BagCheck check, Standing standing, bool quick, bool json)
    {
        if (json)
        {
            bool? valid = standing == Standing.NamesAndSizesRight ? null : standing == Standing.Valid;
            Console.WriteLine(JsonSerializer.Serialize(
                new { bag, valid, standing, depth = quick ? "quick" : "full", check.PayloadBytes, check.PayloadFiles, check.Faults, check.Warnings }, ReportJson.Compact));
            return;
        }

        string word = standing switch
        {
            Standing.Valid => "valid    ",
            Standing.NamesAndSizesRight => "sizes ok ",
            Standing.Changed => "CHANGED  ",
            _ => "NOT VALID",
        };
        Console.WriteLine($"{word}  {bag}");
        foreach (BagFault fault in check.Faults)
        {
            Console.WriteLine($"           {fault.Kind.ToString().ToLowerInvariant()}: {fault.File}: {fault.Message}");
        }

        foreach (string warning in check.Warnings)
        {
            Console.WriteLine($"           {(standing == Standing.Changed ? "changed" : "note")}: {warning}");
        }
    }

    /// <summary>A file only a bag has: a bag that lost its declaration is a damaged bag and not none.</summary>
    [GeneratedRegex(@"^(bagit\.txt|bag-info\.txt|(tag)?manifest-[A-Za-z0-9-]+\.txt)$", RegexOptions.CultureInvariant | RegexOptions.ExplicitCapture)]
    private static partial Regex TagFileName();

    /// <summary>How this program names bags: <c>HL-0031-A-c1</c>.</summary>
    [GeneratedRegex(@"-c[1-9][0-9]*$", RegexOptions.CultureInvariant)]
    private static partial Regex BagName();
}
