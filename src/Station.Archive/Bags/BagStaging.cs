using System.Security.Cryptography;
using System.Text;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Archive.Fixity;

namespace Station.Archive.Bags;

/// <summary>One bag being written into its staging folder.</summary>
internal sealed class BagStaging(string staging, bool withSha512, CancellationToken cancellationToken)
{
    private const string DeclarationText = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

    private readonly SortedDictionary<string, Digests> _payloadDigests = new(StringComparer.Ordinal);
    private readonly SortedDictionary<string, Digests> _tagDigests = new(StringComparer.Ordinal);
    private readonly SortedSet<string> _folders = new(StringComparer.Ordinal);
    private long _payloadBytes;

    /// <param name="Sha256">Lower-case hexadecimal.</param>
    /// <param name="Sha512">The same; null when it was not asked for.</param>
    private readonly record struct Digests(string Sha256, string? Sha512);

    public void Write(IReadOnlyList<BagFile> payload, IReadOnlyList<BagFile> tagFiles, BagInfo info)
    {
        DurableFile.CreateFolder(staging);
        MakeFolder("data");
        foreach (BagFile file in payload)
        {
            Put(file, BagPath.Payload + file.Name, _payloadDigests);
            _payloadBytes += PosixStat.Look(PathOf(BagPath.Payload + file.Name)).Identity.Bytes;
        }

        foreach (BagFile file in tagFiles)
        {
            Put(file, file.Name, _tagDigests);
        }

        PutTag(BagPath.Declaration, DeclarationText);
        PutTag(BagPath.Info, BagInfoText.Write(info, _payloadBytes, payload.Count));
        PutTag("manifest-sha256.txt", ManifestText(_payloadDigests, d => d.Sha256));
        if (withSha512)
        {
            PutTag("manifest-sha512.txt", ManifestText(_payloadDigests, d => d.Sha512!));
        }

        // Neither lists the other: a tag manifest lists no tag manifests (RFC 8493 §2.2.1).
        PutBytes("tagmanifest-sha256.txt", Encoding.UTF8.GetBytes(ManifestText(_tagDigests, d => d.Sha256)));
        if (withSha512)
        {
            PutBytes("tagmanifest-sha512.txt", Encoding.UTF8.GetBytes(ManifestText(_tagDigests, d => d.Sha512!)));
        }

        SyncFolders();
    }

    /// <summary>Two spaces between digest and path, as the common checking tools read and write it.</summary>
    private static string ManifestText(SortedDictionary<string, Digests> digests, Func<Digests, string> digestOf)
    {
        StringBuilder text = new();
        foreach ((string path, Digests digest) in digests)
        {
            text.Append(digestOf(digest)).Append("  ").Append(ManifestPath.Encode(path)).Append('\n');
        }

        return text.ToString();
    }

    private void PutTag(string name, string text) => _tagDigests.Add(name, PutBytes(name, Encoding.UTF8.GetBytes(text)));

    private void Put(BagFile file, string path, SortedDictionary<string, Digests> digests)
    {
        cancellationToken.ThrowIfCancellationRequested();
        MakeFoldersFor(path);
        Digests digest = file.SourcePath is { } source ? PutFile(file, source, path) : PutBytes(path, file.Content.Span);
        if (file.KnownSha256 is { } known && !known.Equals(digest.Sha256, StringComparison.OrdinalIgnoreCase))
        {
            throw new SourceChangedException(file.SourcePath ?? file.Name, $"SHA-256 {known}", digest.Sha256);
        }

        digests.Add(path, digest);
    }

    private Digests PutFile(BagFile file, string source, string path)
    {
        string target = PathOf(path);
        if (file.MayLink && DurableFile.TryLink(source, target))
        {
            FolderTree.MakeReadOnly(target, PosixStat.Look(target));
            return file.KnownSha256 is { } known && !withSha512 ? new Digests(known.ToLowerInvariant(), null) : DigestsOf(target);
        }

        using IncrementalHash? also = withSha512 ? IncrementalHash.CreateHash(HashAlgorithmName.SHA512) : null;
        using SafeFileHandle from = SafeOpen.OpenRegular(source, out FileIdentity opened);
        using DurableWriter writer = DurableWriter.CreateNew(target);
        string digest = file.SourceOffset is { } offset
            ? FileCopy.Range(writer, from, opened, source, offset, file.SourceBytes, cancellationToken, also)
            : FileCopy.Into(writer, from, opened, source, cancellationToken, also);
        writer.MakeReadOnly();
        writer.Finish();
        return new Digests(digest, Finished(also));
    }

    /// <summary>Of a file that was linked: read once for both.</summary>
    private Digests DigestsOf(string path)
    {
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out _);
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        using IncrementalHash? also = withSha512 ? IncrementalHash.CreateHash(HashAlgorithmName.SHA512) : null;
        FileDigest.ReadAll(
            file,
            path,
            bytes =>
            {
                hash.AppendData(bytes);
                also?.AppendData(bytes);
            },
            bytesRead: null,
            cancellationToken);
        return new Digests(Finished(hash)!, Finished(also));
    }

    private static string? Finished(IncrementalHash? hash) => hash is null ? null : Convert.ToHexStringLower(hash.GetHashAndReset());

    private Digests PutBytes(string path, ReadOnlySpan<byte> content)
    {
        using DurableWriter writer = DurableWriter.CreateNew(PathOf(path));
        writer.Write(content);
        writer.MakeReadOnly();
        writer.Finish();
        return new Digests(FileDigest.Sha256(content), withSha512 ? Convert.ToHexStringLower(SHA512.HashData(content)) : null);
    }

    private void MakeFoldersFor(string path)
    {
        for (int slash = path.IndexOf('/', StringComparison.Ordinal); slash >= 0; slash = path.IndexOf('/', slash + 1))
        {
            MakeFolder(path[..slash]);
        }
    }

    private void MakeFolder(string folder)
    {
        if (!_folders.Add(folder))
        {
            return;
        }

        int errno = Posix.TryMakeFolder(PathOf(folder));
        if (errno != 0)
        {
            throw new PosixException(errno, "mkdir", PathOf(folder));
        }
    }

    /// <summary>Deepest first; the staging folder last. Its own name was synced when it was made.</summary>
    private void SyncFolders()
    {
        foreach (string folder in _folders.Reverse())
        {
            FolderTree.MakeReadOnly(PathOf(folder), PosixStat.Look(PathOf(folder)));
            DurableFile.SyncFolder(PathOf(folder));
        }

        DurableFile.SyncFolder(staging);
    }

    private string PathOf(string path) => Path.Combine(staging, path);
}
