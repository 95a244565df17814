using System.Collections.Immutable;
using System.Globalization;
using System.Text;
using System.Text.Json;
using Station.Daemon.Records;

namespace Station.Daemon.Status;

/// <summary>
/// Reads track starts as they are sent: a cue sheet, or JSON <c>{"starts": ["00:02:10", 10.07]}</c> with times as <c>mm:ss:ff</c> or seconds. Pure.
/// </summary>
internal static class DivisionBody
{
    /// <summary>More than a cue sheet may have, so that one that is too long is told so.</summary>
    public const int MaxBytes = CueReader.MaxBytes + 1024;

    private const double MaxSeconds = 9999 * 60;        // what a cue time of four digits of minutes can say

    /// <param name="mediaType">Without parameters, in lower case.</param>
    public static bool IsTaken(string? mediaType) => mediaType is "text/plain" or "application/x-cue" or "application/json";

    /// <param name="name">What messages call it.</param>
    /// <returns>The starts, or every error; and the cue sheet's text.</returns>
    public static (CueResult Result, string Text) Read(string mediaType, ReadOnlyMemory<byte> body, string name)
    {
        if (mediaType != "application/json")
        {
            CueResult read = CueReader.Read(body.Span, name);
            return (read, Utf8Text.TryDecode(body.Span, out string? text, out _) ? text : "");
        }

        var errors = new List<SheetError>();
        ImmutableArray<CueTime> starts = Starts(body, errors);
        if (errors.Count > 0)
        {
            return (new CueResult(name, null, [.. errors.Take(SheetError.MaxErrors)]), "");
        }

        string sheet = Write(starts);
        return (CueReader.Read(sheet, name) with { StartPlaces = [.. starts.Select((_, i) => At(i, ""))] }, sheet);
    }

    /// <summary>The same as a cue sheet.</summary>
    private static string Write(ImmutableArray<CueTime> starts)
    {
        var sheet = new StringBuilder();
        for (int i = 0; i < starts.Length; i++)
        {
            sheet.Append(CultureInfo.InvariantCulture, $"TRACK {i + 1:00} AUDIO\n  INDEX 01 {starts[i]}\n");
        }

        return sheet.ToString();
    }

    private static ImmutableArray<CueTime> Starts(ReadOnlyMemory<byte> body, List<SheetError> errors)
    {
        try
        {
            using var document = JsonDocument.Parse(body, new JsonDocumentOptions { MaxDepth = 8, AllowDuplicateProperties = false });
            if (document.RootElement is not { ValueKind: JsonValueKind.Object } root || root.EnumerateObject().ToArray() is not [{ Name: "starts", Value: { ValueKind: JsonValueKind.Array } list }])
            {
                errors.Add(new SheetError(1, 1, "", "expected {\"starts\": [\"mm:ss:ff\" or seconds, …]} and nothing else"));
                return [];
            }

            return Starts(list, errors);
        }
        catch (JsonException error)
        {
            errors.Add(new SheetError((int)(error.LineNumber ?? 0) + 1, (int)(error.BytePositionInLine ?? 0) + 1, "", "this is no JSON"));
            return [];
        }
    }

    private static ImmutableArray<CueTime> Starts(JsonElement list, List<SheetError> errors)
    {
        int count = list.GetArrayLength();
        if (count is 0 or > CueReader.MaxTracks)
        {
            errors.Add(new SheetError(1, 1, "starts", string.Create(CultureInfo.InvariantCulture, $"expected 1 to {CueReader.MaxTracks} starts, found {count}")));
            return [];
        }

        var starts = ImmutableArray.CreateBuilder<CueTime>(count);
        foreach (JsonElement element in list.EnumerateArray())
        {
            if (Time(element) is not { } time)
            {
                errors.Add(At(starts.Count, "expected mm:ss:ff (75 parts to the second) or seconds from 0"));
                time = starts.Count > 0 ? new CueTime(starts[^1].Parts + 1) : default;
            }
            else if (starts.Count > 0 && time.Parts <= starts[^1].Parts)
            {
                errors.Add(At(starts.Count, $"{time} is not later than the start before it, {starts[^1]}"));
            }

            starts.Add(time);
        }

        return starts.MoveToImmutable();
    }

    private static CueTime? Time(JsonElement element) => element.ValueKind switch
    {
        JsonValueKind.String when CueTime.TryParse(element.GetString()!, out CueTime time) => time,
        JsonValueKind.Number when element.TryGetDouble(out double seconds) && seconds is >= 0 and <= MaxSeconds =>
            new CueTime((int)Math.Round(seconds * CueTime.PartsPerSecond, MidpointRounding.AwayFromZero)),
        _ => null,
    };

    private static SheetError At(int index, string message) =>
        new(1, 1, string.Create(CultureInfo.InvariantCulture, $"starts[{index}]"), message);
}
