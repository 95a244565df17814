using System.Globalization;
using System.Text;
using Station.Audio.Reading;

namespace Station.Mutation.Checks;

/// <summary>What a refusal and a repair owe the operator.</summary>
internal static class RefusalCheck
{
    /// <summary>Long enough for any explanation, too short for a file's content to get into a log.</summary>
    private const int MaxTextLength = 600;

    public static void Refusal(CaptureRefusal refusal, long length, List<string> faults)
    {
        if (!Enum.IsDefined(refusal.Kind))
        {
            faults.Add(FormattableString.Invariant($"the refusal's kind {refusal.Kind} is unknown"));
        }

        Offset("the refusal", refusal.ByteOffset, length, faults);
        Text("what was expected", refusal.Expected, faults);
        Text("what was found", refusal.Found, faults);
        Text("the advice", refusal.Advice, faults);
        Text("the refusal's line", refusal.OneLine, faults);
        OneLine("the refusal", refusal.OneLine, faults);
        if (refusal.Frame is < 0 || refusal.Seconds is < 0)
        {
            faults.Add("the refusal lies before the first frame");
        }
    }

    public static void Repair(CaptureRepair repair, long length, long frames, List<string> faults)
    {
        if (repair.Code is not (CaptureRepair.Truncated or CaptureRepair.Damaged))
        {
            faults.Add($"the repair's code '{repair.Code}' is unknown");
        }

        Offset("the repair", repair.ByteOffset, length, faults);
        Text("the repair", repair.Message, faults);
        OneLine("the repair", repair.Message, faults);
        if (repair.Frame is { } frame && (frame < 0 || frame > frames))
        {
            faults.Add(FormattableString.Invariant($"the repair is at frame {frame} of {frames}"));
        }
    }

    private static void Offset(string what, long offset, long length, List<string> faults)
    {
        if (offset < 0 || offset > length)
        {
            faults.Add(FormattableString.Invariant($"{what} is at byte {offset} of {length}"));
        }
    }

    private static void Text(string what, string text, List<string> faults)
    {
        if (string.IsNullOrWhiteSpace(text) || text.Length > MaxTextLength)
        {
            faults.Add(FormattableString.Invariant($"{what} has {text?.Length ?? 0} characters"));
        }
    }

    /// <summary>Nothing that ends a line, moves a cursor, turns the direction of writing or cannot be written as UTF-8.</summary>
    private static void OneLine(string what, string text, List<string> faults)
    {
        ReadOnlySpan<char> rest = text;
        while (!rest.IsEmpty)
        {
            bool whole = Rune.DecodeFromUtf16(rest, out Rune rune, out int used) == System.Buffers.OperationStatus.Done;
            bool hidden = Rune.GetUnicodeCategory(rune)
                is UnicodeCategory.Control or UnicodeCategory.Format or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator;
            if (!whole || hidden)
            {
                faults.Add(FormattableString.Invariant($"{what} holds {(whole ? "the hidden character" : "half a character near")} U+{rune.Value:X4}"));
                return;
            }

            rest = rest[used..];
        }
    }
}
