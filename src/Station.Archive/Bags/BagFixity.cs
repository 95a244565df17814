using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Archive.Fixity;

namespace Station.Archive.Bags;

/// <summary>Compares every listed file with every digest the manifests give; each file is read once.</summary>
internal sealed class BagFixity(BagInspection inspection, IProgress<long>? progress, bool dropCache)
{
    private readonly record struct Expectation(HashAlgorithmName Algorithm, string Digest, string Source, int Line);

    public void Judge(IReadOnlyList<Manifest> manifests, BagNames names, CancellationToken cancellationToken)
    {
        SortedDictionary<string, List<Expectation>> files = new(StringComparer.Ordinal);
        foreach (Manifest manifest in manifests)
        {
            if (manifest.Algorithm is { } algorithm)
            {
                Collect(manifest, algorithm, names, files);
            }
        }

        foreach ((string path, List<Expectation> expected) in files)
        {
            JudgeFile(path, expected, cancellationToken);
        }
    }

    private static void Collect(Manifest manifest, HashAlgorithmName algorithm, BagNames names, SortedDictionary<string, List<Expectation>> files)
    {
        foreach ((string path, ManifestEntry entry) in manifest.Entries)
        {
            if (names.OnDisk(path) is not { } onDisk)
            {
                continue;
            }

            if (!files.TryGetValue(onDisk, out List<Expectation>? list))
            {
                files.Add(onDisk, list = []);
            }

            list.Add(new Expectation(algorithm, entry.Digest, manifest.Name.FileName, entry.Line));
        }
    }

    private void JudgeFile(string path, List<Expectation> expected, CancellationToken cancellationToken)
    {
        Dictionary<HashAlgorithmName, string> found;
        try
        {
            found = Digests(path, [.. expected.Select(e => e.Algorithm).Distinct()], cancellationToken);
        }
        catch (PosixException e) when (Readable.IsOfTheFile(e))
        {
            inspection.Fault(path, BagFaultKind.Unreadable, "expected a readable file, found: " + e.Message);
            return;
        }
        catch (NotRegularFileException e)
        {
            inspection.Fault(path, BagFaultKind.Unsafe, e.Message);
            return;
        }

        Expectation[] wrong = [.. expected.Where(e => found[e.Algorithm] != e.Digest)];
        if (wrong.Length > 0)
        {
            IEnumerable<string> each = wrong.Select(e => FormattableString.Invariant($"expected {e.Algorithm.Name} {e.Digest} ({e.Source} line {e.Line}), found {found[e.Algorithm]}"));
            inspection.Fault(path, BagFaultKind.Altered, string.Join("; ", each));
        }
    }

    private Dictionary<HashAlgorithmName, string> Digests(string path, HashAlgorithmName[] algorithms, CancellationToken cancellationToken)
    {
        string full = inspection.PathOf(path);
        using SafeFileHandle file = SafeOpen.OpenRegular(full, out _);
        if (dropCache)
        {
            Posix.AdviseDontNeed(file);
        }

        IncrementalHash[] hashes = [.. algorithms.Select(IncrementalHash.CreateHash)];
        try
        {
            FileDigest.ReadAll(file, full, bytes => AppendTo(hashes, bytes), progress, cancellationToken);
            return hashes.ToDictionary(hash => hash.AlgorithmName, hash => Convert.ToHexStringLower(hash.GetHashAndReset()));
        }
        finally
        {
            foreach (IncrementalHash hash in hashes)
            {
                hash.Dispose();
            }
        }
    }

    private static void AppendTo(IncrementalHash[] hashes, ReadOnlySpan<byte> bytes)
    {
        foreach (IncrementalHash hash in hashes)
        {
            hash.AppendData(bytes);
        }
    }
}
