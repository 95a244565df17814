using System.Globalization;
using System.Text;
using Station.Archive.Durability;
using Station.Audio.Synthesis;

namespace Station.Daemon.Commands;

/// <summary>
/// <c>stationd demo --into DIR</c>: puts a synthesised side of an invented record, with its sheet, into a folder, usually an inbox.
/// Both appear under their names only when they are whole.
/// </summary>
internal static class DemoCommand
{
    public const string RecordId = "HL-0031";

    /// <param name="overdriveDb">Above 0: recorded this much too loud, so that the converter clips.</param>
    public static int Run(string folder, char side, DemoLength length, double overdriveDb, int sampleRateHz, int bits, bool withSheet)
    {
        SidePlan plan = SidePlan.Demo(side, length) with { OverdriveDb = overdriveDb, SampleRateHz = sampleRateHz, BitsPerSample = bits };
        string into = Path.GetFullPath(folder);
        DurableFile.CreateFolder(into);
        if (withSheet)
        {
            string sheet = Path.Combine(into, $"{RecordId}.sheet.yaml");
            DurableFile.Replace(sheet, Encoding.UTF8.GetBytes(Sheet(length)));
            Console.WriteLine(sheet);
        }

        string wav = Path.Combine(into, $"{RecordId}-{side}.wav");
        var synthesised = new SynthesisedSide(plan);
        DurableFile.WriteNew(wav, synthesised.WriteWav);
        Console.WriteLine(wav);
        foreach (TrueTrack track in synthesised.Truth.Tracks)
        {
            Console.WriteLine($"  {track.Number}. {track.Title}: {Time(track.MusicStartFrame)} to {Time(track.MusicEndFrame)}");
        }

        if (overdriveDb > 0)
        {
            Console.WriteLine(FormattableString.Invariant($"  recorded {overdriveDb} dB too loud on purpose"));
        }

        return 0;

        string Time(long frame) => ReportText.Time((double)frame / sampleRateHz);
    }

    /// <summary>The sheet of the invented record, both sides, with the lengths of the synthesised tracks.</summary>
    private static string Sheet(DemoLength length)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"""
            # An invented record: nothing here exists.
            record: {RecordId}
            artist: The Lantern Street Quintet
            title: Tide Tables
            label: Quayside Pressings
            catalogue: QP 204
            year: 1968
            genre: Chamber
            speed: 33
            curve: fine-groove
            discs: [[A, B]]
            sides:

            """);
        foreach (char side in "AB")
        {
            text.Append(CultureInfo.InvariantCulture, $"  {side}:\n    tracks:\n");
            foreach (TrackPlan track in SidePlan.Demo(side, length).Tracks)
            {
                text.Append(CultureInfo.InvariantCulture, $"      - title: {track.Title}\n        length: \"{ReportText.Time(track.Seconds)}\"\n");
            }
        }

        return text.ToString();
    }
}
