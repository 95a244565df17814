using Station.Audio.Reading;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Stages;

/// <summary>The plain-words page in each bag: what it is, and how to get the music out without this program.</summary>
internal static class BagReadme
{
    public static string Text(Job job)
    {
        InspectResult inspected = job.Inspected()!;
        string master = inspected.OriginalIsMaster ? OriginalParts.WholeName(job.Capture.FileName) : OriginalParts.MasterName;
        string rebuild = inspected.OriginalIsMaster
            ? $"data/{master} is the dropped file itself."
            : $"""
              data/original-header.bin, the decoded samples of data/{master} and data/original-trailer.bin (where present),
              joined in this order, are the dropped file. data/original.json lists the parts and the file's SHA-256.
              """;
        return $"""
            {job.Capture.Label}: one capture of a record side, as it came from the converter
            =====================================================================

            This folder is a BagIt 1.0 package (RFC 8493). It was written once and is never changed.

            The sound    data/{master}
                         {inspected.Capture.SampleRateHz} Hz, {inspected.Capture.BitsPerSample} bit, {inspected.Capture.Channels} channel(s); nothing was removed, filtered or made louder.
                         {HowToPlay(inspected.OriginalIsMaster ? inspected.Capture.Container! : "flac", inspected.Words, master)}
            To check     sha256sum -c manifest-sha256.txt          (in this folder)
                         flac -t data/{master}                     (where the master is FLAC)
            The rest     data/inspection.json  what was measured and found
                         data/picture.svg      the level through the side
                         data/programme.bin    what this program tells the music by
                         data/sheet.yaml       the record sheet as known then (where there was one)

            The file was dropped as {job.Capture.FileName}
            with SHA-256 {inspected.Capture.Sha256}.
            {rebuild}

            Written by {SoftwareVersion.Text}.

            """.ReplaceLineEndings("\n");
    }

    /// <summary>One line, true for this master: a bag is never changed, so neither is what it promises.</summary>
    /// <param name="container">The master's container, as the report names it.</param>
    /// <param name="words">The words it holds.</param>
    internal static string HowToPlay(string container, WordFormat words, string master) => (container, words) switch
    {
        ("flac", WordFormat.Int32 or WordFormat.Int24In32) =>
            $"FLAC (RFC 9639) of 32-bit words, which many players can't play; decoded by: flac -d data/{master}",
        ("flac", _) => $"FLAC (RFC 9639), played and decoded by common players and by: flac -d data/{master}",
        (_, WordFormat.Float32 or WordFormat.Float64) => "WAV of floating-point samples, as dropped; opened by audio programs that read floating-point WAV.",
        _ => "As dropped; opened by audio programs that read this container.",
    };
}
