using Station.Audio.Reading;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Stages;

/// <summary>The plain-words page in each bag: what it is, and how to get the music out without this program.</summary>
internal static class BagReadme
{
    /// <param name="withSha512">The bag has manifests with SHA-512 too.</param>
    public static string Text(Job job, bool withSha512 = false)
    {
        InspectResult inspected = job.Inspected()!;
        string master = inspected.OriginalIsMaster ? OriginalParts.WholeName(inspected.Capture.Container) : OriginalParts.MasterName;
        string rebuild = inspected.OriginalIsMaster
            ? $"data/{master} is the dropped file itself."
            : $"""
              data/original-header.bin, the decoded samples of data/{master} and data/original-trailer.bin (where present),
              joined in this order, are the dropped file. data/original.json lists the parts and the file's SHA-256.{Order(inspected.ReversedWordBytes, master)}
              """;
        bool damaged = inspected.OriginalIsMaster && inspected.Capture.Container == "flac" && inspected.Capture.Repairs.Length > 0;
        return $"""
            {job.Capture.Label}: one capture of a record side, as it came from the converter
            =====================================================================

            This folder is a BagIt 1.0 package (RFC 8493). It was written once and is never changed.

            The sound    data/{master}
                         {inspected.Capture.SampleRateHz} Hz, {inspected.Capture.BitsPerSample} bit, {inspected.Capture.Channels} channel(s); nothing was removed, filtered or made louder.
                         {(damaged ? $"FLAC (RFC 9639) with faults; decoded as far as it goes by: flac -d -F data/{master}" : HowToPlay(inspected.OriginalIsMaster ? inspected.Capture.Container! : "flac", inspected.Words, master))}
            To check     sha256sum -c manifest-sha256.txt          (in this folder){(withSha512 ? "\n             sha512sum -c manifest-sha512.txt" : "")}
                         {FlacTest(damaged, master)}
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

    /// <summary>The dropped file stored the most significant byte of each sample first: decoders write the other order unless they are told.</summary>
    private static string Order(int reversedWordBytes, string master) => reversedWordBytes == 0
        ? ""
        : FormattableString.Invariant(
            $"""

             Its samples are words of {reversedWordBytes} bytes, the most significant first:
             flac -d --force-raw-format --endian=big --sign=signed data/{master} -o samples.bin
             """);

    /// <summary>What the FLAC decoder's own test says of this master.</summary>
    private static string FlacTest(bool damaged, string master) => damaged
        ? $"""
          flac -t data/{master}                     may complain of the faults this FLAC was dropped with:
                       they are listed in data/inspection.json under capture.repairs; the file is kept as it came
          """
        : $"flac -t data/{master}                     (where the master is FLAC)";

    /// <summary>One line, true for this master: a bag is never changed, so neither is what it promises.</summary>
    /// <param name="container">The master's container, as the report names it.</param>
    /// <param name="words">The words it holds.</param>
    internal static string HowToPlay(string container, WordFormat words, string master) => (container, words) switch
    {
        ("flac", WordFormat.Int32 or WordFormat.Int24In32) =>
            $"FLAC (RFC 9639) of 32-bit words, which many players can't play; decoded by: flac -d data/{master}",
        ("flac", _) => $"FLAC (RFC 9639), played and decoded by common players and by: flac -d data/{master}",
        (_, WordFormat.Float32 or WordFormat.Float64) =>
            $"{Kind(container)} of floating-point samples, as dropped; opened by audio programs that read floating-point {Kind(container)}.",
        _ => "As dropped; opened by audio programs that read this container.",
    };

    private static string Kind(string container) => container switch
    {
        "w64" => "Wave64",
        "aiff" or "aifc" => "AIFF-C",
        "rf64" or "bw64" => container.ToUpperInvariant(),
        _ => "WAV",
    };
}
