namespace Station.Archive.Bags;

/// <summary>Name of a manifest file: <c>manifest-ALG.txt</c> or <c>tagmanifest-ALG.txt</c> (RFC 8493 §2.1.3, §2.2.1).</summary>
/// <param name="FileName">As it stands in the bag.</param>
/// <param name="IsTag">A tag manifest.</param>
/// <param name="Algorithm">The part between, as written.</param>
internal readonly record struct ManifestName(string FileName, bool IsTag, string Algorithm)
{
    private const string PayloadPrefix = "manifest-";
    private const string TagPrefix = "tag" + PayloadPrefix;
    private const string Suffix = ".txt";

    /// <summary>The normal form of RFC 8493 §2.4: lower case, letters and digits only (sha256).</summary>
    public string NormalAlgorithm => string.Concat(Algorithm.Where(char.IsAsciiLetterOrDigit)).ToLowerInvariant();

    public bool IsNormal => Algorithm == NormalAlgorithm && FileName == (IsTag ? TagPrefix : PayloadPrefix) + Algorithm + Suffix;

    public static bool TryParse(string fileName, out ManifestName name)
    {
        name = default;
        bool isTag = fileName.StartsWith(TagPrefix, StringComparison.OrdinalIgnoreCase);
        int start = isTag ? TagPrefix.Length : PayloadPrefix.Length;
        if ((!isTag && !fileName.StartsWith(PayloadPrefix, StringComparison.OrdinalIgnoreCase))
            || !fileName.EndsWith(Suffix, StringComparison.OrdinalIgnoreCase)
            || fileName.Length <= start + Suffix.Length)
        {
            return false;
        }

        name = new ManifestName(fileName, isTag, fileName[start..^Suffix.Length]);
        return true;
    }
}
