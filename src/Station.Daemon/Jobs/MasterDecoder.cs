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
}

/// <summary>Takes one block; false when no more is needed.</summary>
internal delegate bool BlockSink(CaptureBlock block);
