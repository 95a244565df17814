using System.Globalization;

namespace Station.Archive.Bags;

/// <summary>Is everything there that is listed, and everything listed that is there? (RFC 8493 §3)</summary>
internal static class BagCompleteness
{
    public static void Judge(
        BagInspection inspection, BagTree tree, BagDeclaration declaration, IReadOnlyList<Manifest> manifests, BagNames names)
    {
        if (!tree.HasPayloadFolder && !tree.IsUnsafe("data"))
        {
            inspection.Fault("data", BagFaultKind.Missing, "expected the payload folder, found none");
        }

        IReadOnlyList<Manifest> payload = [.. manifests.Where(manifest => !manifest.Name.IsTag)];
        IReadOnlyList<Manifest> tags = [.. manifests.Where(manifest => manifest.Name.IsTag)];
        JudgeAlgorithms(inspection, payload, tags);
        IReadOnlySet<string> fetched = FetchList.Read(inspection, tree, declaration, payload);
        JudgeMissing(inspection, tree, manifests, names, fetched);
        JudgePayload(inspection, tree, declaration, payload, names);
        if (tags.Count == 0)
        {
            inspection.Warn("tagmanifest-sha256.txt", "the bag has no tag manifest: nothing guards its tag files and manifests");
        }

        foreach (Manifest manifest in payload.Where(_ => tags.Count > 0).Where(p => !tags.Any(t => t.Name.NormalAlgorithm == p.Name.NormalAlgorithm)))
        {
            // RFC 8493 §2.2.1: tag manifests should use the algorithms of the payload manifests (from memory). In a bag of this library's one was taken away.
            inspection.Warn("tag" + manifest.Name.FileName, $"is not there, though {manifest.Name.FileName} is");
        }

        foreach (Manifest manifest in tags)
        {
            JudgeTagManifest(inspection, tree, declaration, manifest, payload);
        }

        if (tree.Tags.ContainsKey(BagPath.Info))
        {
            JudgeOxum(inspection, tree, BagInfoFile.Read(inspection, declaration));
        }
    }

    private static void JudgeAlgorithms(BagInspection inspection, IReadOnlyList<Manifest> payload, IReadOnlyList<Manifest> tags)
    {
        if (payload.Count == 0)
        {
            inspection.Fault("manifest-sha256.txt", BagFaultKind.Missing, "expected at least one payload manifest, found none");
        }

        JudgeGroup(payload);
        JudgeGroup(tags);

        void JudgeGroup(IReadOnlyList<Manifest> group)
        {
            bool anyKnown = group.Any(manifest => manifest.Algorithm is not null);
            foreach (Manifest manifest in group.Where(manifest => manifest.Algorithm is null))
            {
                inspection.FaultOrWarn(!anyKnown, manifest.Name.FileName, BagFaultKind.Unsupported, $"digest algorithm '{manifest.Name.Algorithm}' is not known here: not checked");
            }
        }
    }

    private static void JudgeMissing(
        BagInspection inspection, BagTree tree, IReadOnlyList<Manifest> manifests, BagNames names, IReadOnlySet<string> fetched)
    {
        HashSet<string> told = new(StringComparer.Ordinal);
        foreach (Manifest manifest in manifests)
        {
            foreach ((string path, ManifestEntry entry) in manifest.Entries)
            {
                if (names.OnDisk(path) is null && !tree.IsUnsafe(path) && told.Add(path))
                {
                    string where = string.Create(CultureInfo.InvariantCulture, $"listed in {manifest.Name.FileName} line {entry.Line}, not in the bag");
                    inspection.Fault(path, BagFaultKind.Missing, fetched.Contains(path) ? where + "; fetch.txt gives an address, nothing is ever fetched" : where);
                }
            }
        }
    }

    private static void JudgePayload(
        BagInspection inspection, BagTree tree, BagDeclaration declaration, IReadOnlyList<Manifest> payload, BagNames names)
    {
        foreach (string path in tree.Payload.Keys.Where(path => !names.IsListed(path)))
        {
            inspection.Fault(path, BagFaultKind.Unexpected, "is in the payload, expected in a manifest, found in none");
        }

        foreach (string path in payload.SelectMany(manifest => manifest.Entries.Keys).Distinct(StringComparer.Ordinal))
        {
            foreach (Manifest manifest in payload.Where(manifest => !manifest.Entries.ContainsKey(path)))
            {
                // §3: every payload manifest lists every payload file; before 1.0 one of them was enough.
                inspection.FaultOrWarn(declaration.IsStrict, path, BagFaultKind.Unlisted, $"listed in another payload manifest, not in {manifest.Name.FileName}");
            }
        }
    }

    private static void JudgeTagManifest(
        BagInspection inspection, BagTree tree, BagDeclaration declaration, Manifest manifest, IReadOnlyList<Manifest> payload)
    {
        string file = manifest.Name.FileName;
        foreach (string path in manifest.Entries.Keys.Where(path => ManifestName.TryParse(path, out ManifestName name) && name.IsTag))
        {
            inspection.FaultOrWarn(declaration.IsStrict, file, BagFaultKind.Malformed, $"lists the tag manifest '{path}'");
        }

        foreach (string path in tree.Tags.Keys.Where(path => !manifest.Entries.ContainsKey(path)))
        {
            if (payload.Any(other => other.Name.FileName == path))
            {
                inspection.FaultOrWarn(declaration.IsStrict, file, BagFaultKind.Malformed, $"does not list the payload manifest '{path}'");
            }
            else if (!ManifestName.TryParse(path, out _))
            {
                // §2.2.1 only recommends to list them all; a stray file in a bag is still worth a word.
                inspection.Warn(path, $"is not listed in {file}");
            }
        }
    }

    private static void JudgeOxum(BagInspection inspection, BagTree tree, IReadOnlyList<(string Label, string Value)> elements)
    {
        string[] values = [.. BagInfoText.All(elements, BagInfoText.PayloadOxum)];
        if (values.Length > 1)
        {
            inspection.Fault(BagPath.Info, BagFaultKind.Malformed, string.Create(CultureInfo.InvariantCulture, $"expected Payload-Oxum at most once, found {values.Length} times"));
        }

        foreach (string value in values)
        {
            if (!BagInfoText.TryReadOxum(value, out long bytes, out long files))
            {
                inspection.Fault(BagPath.Info, BagFaultKind.Malformed, $"Payload-Oxum: expected octets.files, found '{value}'");
                continue;
            }

            long foundBytes = tree.Payload.Values.Sum();
            if (bytes != foundBytes || files != tree.Payload.Count)
            {
                inspection.Fault("data", BagFaultKind.Altered, string.Create(
                    CultureInfo.InvariantCulture, $"expected {bytes} bytes in {files} files (Payload-Oxum), found {foundBytes} bytes in {tree.Payload.Count} files"));
            }
        }
    }
}
