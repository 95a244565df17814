namespace Station.Audio.Tests.Reading;

/// <summary>The files behind the rows of docs/formats/captures.md, by the row's name.</summary>
internal static class CaptureCases
{
    public static IReadOnlyDictionary<string, Func<IEnumerable<CaptureCase>>> All { get; } = Join(
        EncodingCases.All, WaveDamageCases.All, Wave64DamageCases.All, AiffDamageCases.All, RefusedCases.All);

    private static Dictionary<string, Func<IEnumerable<CaptureCase>>> Join(params Dictionary<string, Func<IEnumerable<CaptureCase>>>[] parts)
    {
        var all = new Dictionary<string, Func<IEnumerable<CaptureCase>>>(StringComparer.Ordinal);
        foreach ((string id, Func<IEnumerable<CaptureCase>> make) in parts.SelectMany(p => p))
        {
            all.Add(id, make);     // a name used twice is an error
        }

        return all;
    }
}
