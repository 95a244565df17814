using System.Text;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Archive.Fixity;

namespace Station.Archive.Bags;

/// <summary>One bag being written into its staging folder.</summary>
internal sealed class BagStaging(string staging, CancellationToken cancellationToken)
{
    private const string DeclarationText = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
    private const string PayloadManifest = "manifest-sha256.txt";
    private const string TagManifest = "tagmanifest-sha256.txt";

    private readonly SortedDictionary<string, string> _payloadDigests = new(StringComparer.Ordinal);
    private readonly SortedDictionary<string, string> _tagDigests = new(StringComparer.Ordinal);
    private readonly SortedSet<string> _folders = new(StringComparer.Ordinal);
    private long _payloadBytes;

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
        PutTag(PayloadManifest, ManifestText(_payloadDigests));
        PutBytes(TagManifest, Encoding.UTF8.GetBytes(ManifestText(_tagDigests)));
        SyncFolders();
    }

    /// <summary>Two spaces between digest and path, as the common checking tools read and write it.</summary>
    private static string ManifestText(SortedDictionary<string, string> digests)
    {
        StringBuilder text = new();
        foreach ((string path, string digest) in digests)
        {
            text.Append(digest).Append("  ").Append(ManifestPath.Encode(path)).Append('\n');
        }

        return text.ToString();
    }

    private void PutTag(string name, string text) => _tagDigests.Add(name, PutBytes(name, Encoding.UTF8.GetBytes(text)));

    private void Put(BagFile file, string path, SortedDictionary<string, string> digests)
    {
        cancellationToken.ThrowIfCancellationRequested();
        MakeFoldersFor(path);
        string digest = file.SourcePath is { } source ? PutFile(file, source, path) : PutBytes(path, file.Content.Span);
        if (file.KnownSha256 is { } known && !known.Equals(digest, StringComparison.OrdinalIgnoreCase))
        {
            throw new SourceChangedException(file.SourcePath ?? file.Name, $"SHA-256 {known}", digest);
        }

        digests.Add(path, digest);
    }

    private string PutFile(BagFile file, string source, string path)
    {
        string target = PathOf(path);
        if (file.MayLink && DurableFile.TryLink(source, target))
        {
            FolderTree.MakeReadOnly(target, PosixStat.Look(target));
            return file.KnownSha256?.ToLowerInvariant() ?? FileDigest.Sha256(target, cancellationToken: cancellationToken);
        }

        using SafeFileHandle from = SafeOpen.OpenRegular(source, out FileIdentity opened);
        using DurableWriter writer = DurableWriter.CreateNew(target);
        string digest = file.SourceOffset is { } offset
            ? FileCopy.Range(writer, from, opened, source, offset, file.SourceBytes, cancellationToken)
            : FileCopy.Into(writer, from, opened, source, cancellationToken);
        writer.MakeReadOnly();
        writer.Finish();
        return digest;
    }

    private string PutBytes(string path, ReadOnlySpan<byte> content)
    {
        using DurableWriter writer = DurableWriter.CreateNew(PathOf(path));
        writer.Write(content);
        writer.MakeReadOnly();
        writer.Finish();
        return FileDigest.Sha256(content);
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
