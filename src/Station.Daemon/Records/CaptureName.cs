using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;

namespace Station.Daemon.Records;

/// <summary>
/// What a name in the inbox says the file is. Decided from the name alone, with no look at the disk; whether the content agrees is
/// found out later. The cases are closed: everything that can lie in the inbox is one of them.
/// </summary>
/// <remarks>
/// <para>The side of a capture is the text after the last <c>-</c> when it is one letter, or when it is several letters that can be nothing but sides:
/// two to eight neighbours in the alphabet within A to L (<c>AB</c>, <c>CD</c>, <c>ABCD</c>), or two letters in order within A to H (<c>AD</c> and
/// <c>BC</c>, the discs of a set in changer order). Anything else after the last <c>-</c> belongs to the record id: <c>HL-0031-LIVE.wav</c>, <c>HL-0031-EP.wav</c> and
/// <c>HL-0031.wav</c> are side A of a record whose id is the whole name, and carry a remark.</para>
/// <para>Upper and lower case make no difference to sides, <c>part</c> and extensions.</para>
/// </remarks>
internal abstract record CaptureName
{
    /// <summary>Highest number a part may bear.</summary>
    public const int MaxPart = 999;

    private static readonly string[] AudioExtensions = ["wav", "flac", "aif", "aiff", "w64", "rf64", "aifc"];
    private static readonly string[] PictureExtensions = ["jpg", "jpeg", "png"];

    // Endings that recorders, copiers, browsers and synchronisers put on a file they haven't finished (common practice, no source).
    private static readonly string[] UnfinishedExtensions =
        ["tmp", "temp", "partial", "crdownload", "download", "filepart", "opdownload", "swp", "unfinished"];

    // What desktops leave in folders they show (common practice, no source); those that begin with a dot are hidden anyway.
    private static readonly string[] DesktopFiles = ["desktop.ini", "thumbs.db", "ehthumbs.db"];

    private CaptureName()
    {
    }

    /// <summary>Reads a file's own name (no folder). Never throws.</summary>
    public static CaptureName Parse(string fileName)
    {
        if (string.IsNullOrEmpty(fileName) || fileName.AsSpan().ContainsAny('/', '\0') || fileName is "." or "..")
        {
            return new Unknown("not the name of a file");
        }

        if (!TextRules.TryNormalise(fileName, out string? name) || name.Contains('\uFFFD', StringComparison.Ordinal))
        {
            // The platform shows bytes that are no UTF-8 as U+FFFD, and can't open the file under that name.
            return new Unknown("the name is not valid UTF-8; rename the file");
        }

        if (IsUnfinished(name) || DesktopFiles.Contains(name, StringComparer.OrdinalIgnoreCase))
        {
            return new Temporary();
        }

        foreach (string ending in (string[])[".sheet.yaml", ".sheet.yml"])
        {
            if (TryCut(name, ending, out string? stem))
            {
                return RecordId.TryParse(stem, out RecordId record, out string? reason) ? new Sheet(record) : new Unknown(reason);
            }
        }

        if (TryCut(name, ".shelf.csv", out _))
        {
            return new ShelfList();
        }

        foreach (string extension in PictureExtensions)
        {
            if (TryCut(name, ".sleeve." + extension, out string? stem))
            {
                return RecordId.TryParse(stem, out RecordId record, out string? reason)
                    ? new Sleeve(record, extension == "jpeg" ? "jpg" : extension)
                    : new Unknown(reason);
            }
        }

        if (TryCut(name, ".cue", out string? cueStem))
        {
            return ParseCue(cueStem);
        }

        foreach (string extension in AudioExtensions)
        {
            if (TryCut(name, "." + extension, out string? stem))
            {
                return stem.StartsWith("bench-", StringComparison.OrdinalIgnoreCase) ? new BenchTest(extension) : ParseCapture(stem, extension);
            }
        }

        return new Unknown("the name has none of the endings this station knows "
            + "(.wav .flac .aif .aiff .aifc .w64 .rf64 .cue .sheet.yaml .sleeve.jpg .sleeve.png .shelf.csv)");
    }

    private static CaptureName ParseCapture(string stem, string extension)
    {
        int? part = null;
        int dot = stem.LastIndexOf('.');
        if (dot >= 0 && stem.AsSpan(dot + 1).StartsWith("part", StringComparison.OrdinalIgnoreCase))
        {
            string digits = stem[(dot + 5)..];
            if (digits.Length == 0 || digits.All(char.IsAsciiDigit))
            {
                if (!TryPartNumber(digits, out int number))
                {
                    return new Unknown($"a part is numbered from 1 to {MaxPart}, such as HL-0031-A.part2.wav");
                }

                part = number;
                stem = stem[..dot];
            }
        }

        bool sideSeen = TrySplitSides(stem, out string recordText, out ImmutableArray<SideLetter> sides);
        return RecordId.TryParse(recordText, out RecordId record, out string? reason)
            ? new Capture(record, sides, part, extension, SideAssumed: !sideSeen)
            : new Unknown(reason);
    }

    private static CaptureName ParseCue(string stem)
    {
        bool sideSeen = TrySplitSides(stem, out string recordText, out ImmutableArray<SideLetter> sides);
        if (sides.Length > 1)
        {
            return new Unknown("a cue sheet gives the tracks of one side; write one for each side");
        }

        return RecordId.TryParse(recordText, out RecordId record, out string? reason)
            ? new Cue(record, sides[0], SideAssumed: !sideSeen)
            : new Unknown(reason);
    }

    private static bool TryPartNumber(string digits, out int number)
    {
        number = 0;
        foreach (char digit in digits)
        {
            number = Math.Min((number * 10) + (digit - '0'), MaxPart + 1);   // held at the limit: a hundred digits can't overflow
        }

        return digits.Length > 0 && number is >= 1 and <= MaxPart;
    }

    private static bool TrySplitSides(string stem, out string record, out ImmutableArray<SideLetter> sides)
    {
        int hyphen = stem.LastIndexOf('-');
        if (hyphen >= 0 && AreSides(stem.AsSpan(hyphen + 1)))
        {
            record = stem[..hyphen];
            sides = [.. stem[(hyphen + 1)..].Select(SideLetter.Of)];
            return true;
        }

        record = stem;
        sides = [SideLetter.A];
        return false;
    }

    private static bool AreSides(ReadOnlySpan<char> group)
    {
        if (group.Length is < 1 or > 8)
        {
            return false;
        }

        bool neighbours = true;
        char previous = '\0';
        char last = '\0';
        foreach (char character in group)
        {
            if (!char.IsAsciiLetter(character))
            {
                return false;
            }

            last = char.ToUpperInvariant(character);
            if (previous != '\0')
            {
                if (last <= previous)
                {
                    return false;
                }

                neighbours &= last == previous + 1;
            }

            previous = last;
        }

        return group.Length == 1 || (neighbours && last <= 'L') || (group.Length == 2 && last <= 'H');
    }

    private static bool IsUnfinished(string name)
    {
        if (name[0] is '.' or '~' || name[^1] == '~')
        {
            return true;
        }

        string extension = name[(name.LastIndexOf('.') + 1)..];
        return extension.Length < name.Length
            && (UnfinishedExtensions.Contains(extension, StringComparer.OrdinalIgnoreCase)
                || (extension.StartsWith("part", StringComparison.OrdinalIgnoreCase) && extension.AsSpan(4).IndexOfAnyExceptInRange('0', '9') < 0));
    }

    private static bool TryCut(string name, string ending, [NotNullWhen(true)] out string? stem)
    {
        bool ends = name.EndsWith(ending, StringComparison.OrdinalIgnoreCase);
        stem = ends ? name[..^ending.Length] : null;
        return ends;
    }

    /// <summary>Sound of one or more sides.</summary>
    /// <param name="Record">The record it belongs to.</param>
    /// <param name="Sides">One side, or several in the order they follow in the file.</param>
    /// <param name="Part">1 and up when the recorder stopped and went on; null for a whole capture.</param>
    /// <param name="Extension">In lower case, without the dot.</param>
    /// <param name="SideAssumed">The name has no side and side A was taken.</param>
    internal sealed record Capture(RecordId Record, ImmutableArray<SideLetter> Sides, int? Part, string Extension, bool SideAssumed) : CaptureName
    {
        /// <summary>The sides as one word: <c>A</c>, <c>AB</c>.</summary>
        public string SidesText => string.Concat(Sides.Select(s => s.Value));

        /// <summary>What the operator should be told about the name, or null.</summary>
        public string? Remark => SideAssumed
            ? $"The name gives no side; taken as side A of record {Record}. Name a capture {Record}-B.wav for another side."
            : null;
    }

    /// <summary>A record sheet.</summary>
    internal sealed record Sheet(RecordId Record) : CaptureName;

    /// <summary>A picture of the sleeve; <paramref name="Extension"/> is <c>jpg</c> or <c>png</c>.</summary>
    internal sealed record Sleeve(RecordId Record, string Extension) : CaptureName;

    /// <summary>Fixed track starts of one side.</summary>
    internal sealed record Cue(RecordId Record, SideLetter Side, bool SideAssumed) : CaptureName;

    /// <summary>Many records in one table.</summary>
    internal sealed record ShelfList : CaptureName;

    /// <summary>A capture of the station's own test signal.</summary>
    internal sealed record BenchTest(string Extension) : CaptureName;

    /// <summary>Something a program is still writing, hides, or keeps for itself beside the files: not to be claimed, not to be refused.</summary>
    internal sealed record Temporary : CaptureName;

    /// <summary>Nothing this station takes; <paramref name="Reason"/> is for the operator.</summary>
    internal sealed record Unknown(string Reason) : CaptureName;
}
