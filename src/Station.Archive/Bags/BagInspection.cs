using System.Collections.Immutable;
using Station.Archive.Durability;

namespace Station.Archive.Bags;

/// <summary>What has been found so far while one bag is checked.</summary>
internal sealed class BagInspection(string folder)
{
    private readonly List<BagFault> _faults = [];
    private readonly List<string> _warnings = [];

    /// <summary>Full path of the bag.</summary>
    public string Folder { get; } = folder;

    public void Fault(string file, BagFaultKind kind, string message) =>
        _faults.Add(new BagFault(file, kind, $"{PathText.Printable(file)}: {PathText.Printable(message)}"));

    public void Warn(string file, string message) => _warnings.Add($"{PathText.Printable(file)}: {PathText.Printable(message)}");

    /// <summary>A rule that binds from version 1.0 on and was advice, or absent, before.</summary>
    public void FaultOrWarn(bool isFault, string file, BagFaultKind kind, string message)
    {
        if (isFault)
        {
            Fault(file, kind, message);
        }
        else
        {
            Warn(file, message);
        }
    }

    public string PathOf(string file) => Path.Combine(Folder, file);

    public BagCheck Finish(long payloadBytes, int payloadFiles) => new(
        _faults.Count == 0,
        [.. _faults.OrderBy(fault => fault.File, StringComparer.Ordinal)],
        [.. _warnings],
        payloadBytes,
        payloadFiles);
}
