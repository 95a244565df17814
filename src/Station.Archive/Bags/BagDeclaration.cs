using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;

namespace Station.Archive.Bags;

/// <summary>What bagit.txt says (RFC 8493 §2.1.1).</summary>
/// <param name="Major">Version before the dot.</param>
/// <param name="Minor">Version after the dot.</param>
/// <param name="Encoding">Of all other tag files; bagit.txt itself is UTF-8. Throws on bytes that do not fit.</param>
internal sealed partial record BagDeclaration(int Major, int Minor, Encoding Encoding)
{
    private static readonly Encoding StrictUtf8 = new UTF8Encoding(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true);

    /// <summary>What is assumed so that the rest can be looked at although bagit.txt is no good.</summary>
    public static BagDeclaration Assumed { get; } = new(1, 0, StrictUtf8);

    /// <summary>Rules of RFC 8493; earlier versions were looser.</summary>
    public bool IsStrict => Major >= 1;

    /// <summary>Reads and judges bagit.txt.</summary>
    public static BagDeclaration Read(BagInspection inspection, BagTree tree)
    {
        const string Name = BagPath.Declaration;
        if (!tree.Tags.ContainsKey(Name))
        {
            if (!tree.IsUnsafe(Name))
            {
                inspection.Fault(Name, BagFaultKind.Missing, "expected the declaration of the bag, found none");
            }

            return Assumed;
        }

        if (TagFile.Read(inspection, Name, StrictUtf8) is not { } file)
        {
            return Assumed;
        }

        if (file.HasByteOrderMark)
        {
            inspection.Fault(Name, BagFaultKind.Malformed, "expected no byte-order mark, found one");
        }

        if (!file.EndsWithLineEnd)
        {
            inspection.Warn(Name, "the last line has no line end");
        }

        return Judge(inspection, file.Lines);
    }

    private static BagDeclaration Judge(BagInspection inspection, IReadOnlyList<string> lines)
    {
        const string Name = BagPath.Declaration;
        if (lines.Count != 2)
        {
            inspection.Fault(Name, BagFaultKind.Malformed, string.Create(CultureInfo.InvariantCulture, $"expected exactly two lines, found {lines.Count}"));
        }

        Match version = VersionLine.Match(lines.Count > 0 ? lines[0] : "");
        int major = 1;
        int minor = 0;
        if (!version.Success
            || !int.TryParse(version.Groups["major"].ValueSpan, NumberStyles.None, CultureInfo.InvariantCulture, out major)
            || !int.TryParse(version.Groups["minor"].ValueSpan, NumberStyles.None, CultureInfo.InvariantCulture, out minor))
        {
            (major, minor) = (1, 0);
            inspection.Fault(Name, BagFaultKind.Malformed, $"line 1: expected 'BagIt-Version: M.N', found '{(lines.Count > 0 ? lines[0] : "")}'");
        }
        else if (major > 1 || (major == 1 && minor > 0))
        {
            inspection.Fault(Name, BagFaultKind.Unsupported, $"line 1: expected a version up to 1.0, found {major}.{minor}");
        }

        return new BagDeclaration(major, minor, EncodingOf(inspection, lines.Count > 1 ? lines[1] : ""));
    }

    private static Encoding EncodingOf(BagInspection inspection, string line)
    {
        Match match = EncodingLine.Match(line);
        if (!match.Success)
        {
            inspection.Fault(BagPath.Declaration, BagFaultKind.Malformed, $"line 2: expected 'Tag-File-Character-Encoding: ENCODING', found '{line}'");
            return StrictUtf8;
        }

        string name = match.Groups["name"].Value;
        try
        {
            return name.Equals("UTF-8", StringComparison.OrdinalIgnoreCase)
                ? StrictUtf8
                : Encoding.GetEncoding(name, EncoderFallback.ExceptionFallback, DecoderFallback.ExceptionFallback);
        }
        catch (ArgumentException)
        {
            inspection.Fault(BagPath.Declaration, BagFaultKind.Unsupported, $"line 2: expected a character encoding known here, such as UTF-8, found '{name}'");
            return StrictUtf8;
        }
    }

    [GeneratedRegex(@"^BagIt-Version: (?<major>[0-9]+)\.(?<minor>[0-9]+)\z", RegexOptions.CultureInvariant | RegexOptions.ExplicitCapture)]
    private static partial Regex VersionLine { get; }

    [GeneratedRegex(@"^Tag-File-Character-Encoding: (?<name>\S+)\z", RegexOptions.CultureInvariant | RegexOptions.ExplicitCapture)]
    private static partial Regex EncodingLine { get; }
}
