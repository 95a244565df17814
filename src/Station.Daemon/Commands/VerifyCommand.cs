using System.Text.Json;
using Station.Archive.Bags;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Commands;

/// <summary><c>stationd verify [PATH]</c>: checks one bag, or every bag below a folder, without the service and its database.</summary>
internal static class VerifyCommand
{
    /// <summary>Bags lie at archive/&lt;record&gt;/&lt;bag&gt;; deeper folders are not searched.</summary>
    private const int MaxDepth = 3;

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
        foreach (string bag in Bags(root, 0))
        {
            cancellationToken.ThrowIfCancellationRequested();
            any = true;
            if (!part.Includes(bag))
            {
                continue;
            }

            bags++;
            BagCheck check = BagReader.Check(bag, quick ? BagDepth.Quick : BagDepth.Full, cancellationToken);
            bad += check.IsValid ? 0 : 1;
            Tell(bag, check, quick, json);
        }

        if (!any)
        {
            Console.Error.WriteLine($"{path}: no bag is there.");
            return ExitCodes.Usage;
        }

        if (!json)
        {
            Console.WriteLine(FormattableString.Invariant($"{bags} bags checked, {bad} not valid"));
        }

        return bad == 0 ? 0 : ExitCodes.NotValid;
    }

    private static IEnumerable<string> Bags(string folder, int depth)
    {
        if (File.Exists(Path.Combine(folder, "bagit.txt")))
        {
            return [folder];
        }

        return depth == MaxDepth
            ? []
            : Directory.EnumerateDirectories(folder).Where(d => !Path.GetFileName(d).StartsWith('.')).Order(StringComparer.Ordinal).SelectMany(d => Bags(d, depth + 1));
    }

    private static void Tell(string bag, BagCheck check, bool quick, bool json)
    {
        if (json)
        {
            Console.WriteLine(JsonSerializer.Serialize(
                new { bag, valid = check.IsValid, depth = quick ? "quick" : "full", check.PayloadBytes, check.PayloadFiles, check.Faults, check.Warnings }, ReportJson.Compact));
            return;
        }

        Console.WriteLine($"{(check.IsValid ? "valid    " : "NOT VALID")}  {bag}");
        foreach (BagFault fault in check.Faults)
        {
            Console.WriteLine($"           {fault.Kind.ToString().ToLowerInvariant()}: {fault.File}: {fault.Message}");
        }

        foreach (string warning in check.Warnings)
        {
            Console.WriteLine($"           note: {warning}");
        }
    }
}
