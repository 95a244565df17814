using System.Globalization;

namespace Station.Archive.Bags;

/// <summary>Reads bag-info.txt of a bag and reports what is wrong with its lines.</summary>
internal static class BagInfoFile
{
    /// <summary>The elements in order; empty when the file cannot be read, which is then reported.</summary>
    public static List<(string Label, string Value)> Read(BagInspection inspection, BagDeclaration declaration)
    {
        if (TagFile.Read(inspection, BagPath.Info, declaration.Encoding) is not { } file)
        {
            return [];
        }

        if (file.HasByteOrderMark)
        {
            inspection.Warn(BagPath.Info, "begins with a byte-order mark");
        }

        if (!file.EndsWithLineEnd)
        {
            inspection.Warn(BagPath.Info, "the last line has no line end");
        }

        return BagInfoText.Read(file.Lines, (line, problem, breaksFormat) => inspection.FaultOrWarn(
            breaksFormat, BagPath.Info, BagFaultKind.Malformed, string.Create(CultureInfo.InvariantCulture, $"line {line}: {problem}")));
    }
}
