using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Audio.Encoding;
using Station.Audio.Reading;

namespace Station.Daemon.Jobs;

/// <summary>Decodes an archived master with the same reader that judges captures.</summary>
internal sealed class MasterDecoder(CodecTools codecs)
{
    /// <summary>Writes the master's samples in the file's own words: the delegate that rebuilding a dropped file needs.</summary>
    /// <exception cref="InvalidDataException">The master doesn't decode whole: it was written by this service, so nothing in it is assumed.</exception>
    public void DecodeWords(string masterPath, Stream output) => Read(new MasterFile(masterPath), _ => { }, block =>
    {
        output.Write(block.Words);
        return true;
    });

    /// <summary>Hands the blocks of the master on, in order, until the sink has had enough.</summary>
    /// <param name="opened">Told the format before the first block.</param>
    /// <param name="sink">Returns false when it needs no more.</param>
    /// <exception cref="InvalidDataException">The master doesn't decode.</exception>
    public void Read(MasterFile master, Action<CaptureFormat> opened, BlockSink sink)
    {
        using SafeFileHandle file = SafeOpen.OpenRegular(master.Path, out _);
        CaptureOpening opening = CaptureReader.Open(file, Path.GetFileName(master.Path), master.DamageKnown ? ReaderLimits.None : ReaderLimits.Whole, codecs);
        if (opening.Reader is not { } reader)
        {
            throw new InvalidDataException(opening.Refusal!.OneLine);
        }

        using (reader)
        {
            try
            {
                opened(reader.Format);
                for (CaptureBlock block = reader.Read(); !block.IsEmpty && sink(block); block = reader.Read())
                {
                    // The sink does the work.
                }
            }
            catch (CaptureRefusedException refused)
            {
                throw new InvalidDataException(refused.Refusal.OneLine, refused);
            }
        }
    }

    /// <summary>Hands some frames of the master on, in order, without decoding the rest where that can be.</summary>
    /// <param name="firstFrame">From 0.</param>
    /// <param name="endFrame">Exclusive; a master that ends before gives what it has.</param>
    /// <inheritdoc cref="Read"/>
    public void ReadSpan(MasterFile master, long firstFrame, long endFrame, Action<CaptureFormat> opened, BlockSink sink)
    {
        // A dropped FLAC with known damage decodes to what was inspected only when it is read whole; what isn't FLAC costs no decoding.
        if (!master.DamageKnown && Path.GetExtension(master.Path) == ".flac")
        {
            long total = FlacFile.ReadStreamInfo(master.Path).TotalFrames;
            if (firstFrame < Math.Min(endFrame, total))
            {
                FlacFile.ReadSpan(codecs, master.Path, firstFrame, Math.Min(endFrame, total), opened, sink);
            }

            return;
        }

        Read(master, opened, block =>
        {
            int from = (int)Math.Clamp(firstFrame - block.FirstFrame, 0, block.Frames);
            int to = (int)Math.Clamp(endFrame - block.FirstFrame, 0, block.Frames);
            return (from >= to || sink(block.Slice(from, to - from))) && block.FirstFrame + block.Frames < endFrame;
        });
    }
}
