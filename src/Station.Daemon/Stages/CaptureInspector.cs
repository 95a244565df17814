using System.Collections.Immutable;
using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Audio.Encoding;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Stages;

/// <summary>
/// The one pass over a capture: each block goes to the meters, and its words to the master encoder, while the reader hands every byte
/// of the file to the hash. Used by the job stage and by <c>inspect</c> alike.
/// </summary>
internal sealed class CaptureInspector(CodecTools codecs, ReaderLimits readerLimits, InspectionLimits limits, MeterSettings meterSettings)
{
    /// <summary>Measures one capture.</summary>
    /// <param name="path">The file; opened without following links.</param>
    /// <param name="masterPath">Where to encode the master, replacing what is there; null to measure only. No master is made when the original is one.</param>
    /// <returns>The inspection, or why the file can't be taken.</returns>
    /// <exception cref="IOException">The file could not be read, or the master not be written.</exception>
    public InspectionOutcome Inspect(string path, string? masterPath, CancellationToken cancellationToken)
    {
        string name = Path.GetFileName(path);
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out FileIdentity before);
        FileFacts opened = SafeOpen.Look(file);
        using var sha256 = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        CaptureOpening opening = CaptureReader.Open(file, name, readerLimits, codecs, bytes => sha256.AppendData(bytes));
        if (opening.Reader is not { } reader)
        {
            return new InspectionOutcome(null, opening.Refusal!, Changed: HasChanged(file, opened));
        }

        using (reader)
        {
            SideReading reading;
            bool encodes;
            try
            {
                (reading, encodes) = Pass(reader, masterPath, cancellationToken);
            }
            catch (IOException) when (HasChanged(file, opened))
            {
                return new InspectionOutcome(null, null, Changed: true);
            }
            catch (CaptureRefusedException refused)
            {
                return new InspectionOutcome(null, refused.Refusal, Changed: HasChanged(file, opened));
            }

            if (HasChanged(file, opened))
            {
                return new InspectionOutcome(null, null, Changed: true);
            }

            Judgement judgement = SideJudge.Judge(reading, reader.Repairs, limits);
            return new InspectionOutcome(
                new Inspection(
                    Describe(name, before.Bytes, Convert.ToHexStringLower(sha256.GetHashAndReset()), reader, reading),
                    reader.Format, reader.Layout, reading, judgement, MasterWritten: encodes, before),
                null, Changed: false);
        }
    }

    /// <summary>Programs can put a file's own time back after writing; the time of the inode's last change they can't.</summary>
    private static bool HasChanged(SafeFileHandle file, FileFacts opened)
    {
        FileFacts now = SafeOpen.Look(file);
        return now.Identity != opened.Identity || now.ChangedNanoseconds != opened.ChangedNanoseconds;
    }

    private (SideReading Reading, bool Encodes) Pass(CaptureReader reader, string? masterPath, CancellationToken cancellationToken)
    {
        CaptureFormat format = reader.Format;
        bool encodes = masterPath is not null && !Inspection.IsItsOwnMaster(reader.Layout, format);
        var meters = new SideMeters(format, meterSettings);
        using ChildEncoder? encoder = encodes
            ? ChildEncoder.Flac(codecs, new PcmSpec(format.Words, format.BitsPerSample, format.SampleRateHz, format.Channels), masterPath!)
            : null;
        while (true)
        {
            cancellationToken.ThrowIfCancellationRequested();
            CaptureBlock block = reader.Read();
            if (block.IsEmpty)
            {
                break;
            }

            encoder?.Write(block.Words);
            meters.Add(block);
        }

        encoder?.Finish();
        return (meters.Finish(), encodes);
    }

    private static ReportCapture Describe(string name, long bytes, string sha256, CaptureReader reader, SideReading reading) => new()
    {
        File = name,
        Sha256 = sha256,
        Bytes = bytes,
        Container = reader.Format.Container,
        Encoding = reader.Format.EncodingName,
        SampleRateHz = reader.Format.SampleRateHz,
        BitsPerSample = reader.Format.BitsPerSample,
        Channels = reader.Format.Channels,
        DurationSeconds = Math.Round((double)reading.Frames / reading.SampleRateHz, 6),
        Repairs = [.. reader.Repairs.Select(r => new ReportRepair(
            r.Code, r.Message, r.ByteOffset, r.Frame is { } frame ? Math.Round((double)frame / reading.SampleRateHz, 6) : null))],
        Broadcast = reader.Broadcast is { } b
            ? new ReportBroadcast(
                b.Version, b.Description, b.Originator, b.OriginatorReference, b.OriginationDate, b.OriginationTime, b.TimeReferenceSamples, b.UmidHex,
                b.LoudnessLufs, b.LoudnessRangeLu, b.MaxTruePeakDbtp, b.MaxMomentaryLufs, b.MaxShortTermLufs, b.CodingHistory)
            : null,
    };
}

/// <param name="Inspection">Null when the file was refused or changed.</param>
/// <param name="Because">File, offset, expected, found and advice; null unless refused.</param>
/// <param name="Changed">The file changed while it was read: nothing measured counts.</param>
internal sealed record InspectionOutcome(Inspection? Inspection, CaptureRefusal? Because, bool Changed)
{
    /// <summary>The refusal in one line; null unless refused.</summary>
    public string? Refusal => Because?.OneLine;
}

internal sealed record Inspection(
    ReportCapture Capture, CaptureFormat Format, OriginalLayout Layout, SideReading Reading, Judgement Judgement, bool MasterWritten, FileIdentity Identity)
{
    /// <summary>The dropped file itself is the master.</summary>
    public bool OriginalIsMaster => IsItsOwnMaster(Layout, Format);

    /// <summary>A FLAC is one already, and floats can't be held by a FLAC without loss.</summary>
    public static bool IsItsOwnMaster(OriginalLayout layout, CaptureFormat format) => layout.WholeFileIsMaster || !format.IsInteger;
}
