using CsCheck;
using Microsoft.Win32.SafeHandles;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

public sealed class ChunkLayoutPropertyTests : IDisposable
{
    /// <summary>Where the search begins; a failing case is printed with the seed that repeats it.</summary>
    private const string Seed = "0000KeqBl5C1";

    private static readonly Gen<byte[]> OtherChunk =
        from id in Gen.OneOf("LIST", "iXML", "JUNK", "id3 ", "cue ", "abcd", "x  y", "fact")
        from content in Gen.Byte.Array[0, 41]
        select WaveBytes.Chunk(id, content);

    private static readonly Gen<Layout> Layouts =
        from before in OtherChunk.Array[0, 6]
        from between in OtherChunk.Array[0, 4]
        from after in OtherChunk.Array[0, 6]
        from formatFirst in Gen.Bool
        from extensible in Gen.Bool
        from wide in Gen.Int[0, 2]
        from channels in Gen.Int[1, 2]
        from wordBytes in Gen.Int[2, 4]
        from frames in Gen.Int[1, 3000]
        from seed in Gen.Int[0, 1000]
        select new Layout(before, between, after, formatFirst, extensible, wide, channels, wordBytes, frames, seed);

    /// <summary>0 to 1, evenly: the library's own doubles favour the round ones.</summary>
    private static readonly Gen<double> Share = Gen.Int[0, 999_999].Select(i => i / 1e6);

    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Any_order_of_chunks_gives_back_the_sound_and_nothing_to_repair() =>
        Layouts.Sample(
            layout =>
            {
                string path = _folder.Write(layout.File());
                ReadResult result = ReadResult.Of(path);
                Assert.Equal(layout.Sound, result.Words);
                Assert.Equal((layout.Channels, (long)layout.Frames), (result.Format.Channels, result.Format.Frames));
                Assert.Empty(result.Repairs);
                File.Delete(path);
            },
            iter: 400,
            seed: Seed,
            threads: 1);

    /// <summary>Neither a crash nor a hang nor a byte that is lost: a damaged file is refused by value or read with all its bytes seen.</summary>
    [Fact]
    public void A_cut_or_altered_file_is_refused_or_read_with_every_byte_accounted_for()
    {
        Gen<(Layout Layout, double Cut, (double At, byte Value)[] Changes)> damaged =
            from layout in Layouts
            from cut in Share
            from changes in Gen.Select(Share, Gen.Byte).Array[0, 3]
            select (layout, cut, changes);
        int read = 0;
        damaged.Sample(
            d =>
            {
                byte[] file = d.Layout.File();
                foreach ((double at, byte value) in d.Changes)
                {
                    // Denser at the start, where the headers are.
                    file[(int)(at * at * at * (file.Length - 1))] = value;
                }

                file = d.Cut < 0.3 ? file[..(int)(d.Cut / 0.3 * file.Length)] : file;
                string path = _folder.Write(file);
                bool taken;
                using (SafeFileHandle handle = File.OpenHandle(path))
                {
                    CaptureOpening opening = CaptureReader.Open(handle, "x", new ReaderLimits(), ReadResult.Codecs);
                    using CaptureReader? reader = opening.Reader;
                    Assert.True(opening.Reader is null != opening.Refusal is null);
                    taken = reader is PcmCaptureReader;
                }

                if (taken)
                {
                    read++;
                    ReadResult result = ReadResult.Of(path);
                    Assert.Equal(file.Length, result.Layout.HeaderBytes + result.Words.Length + result.Layout.TrailerBytes);
                }

                File.Delete(path);
            },
            iter: 1500,
            seed: Seed,
            threads: 1);
        Assert.InRange(read, 300, 1200); // both outcomes are met often
    }

    private sealed record Layout(
        byte[][] Before,
        byte[][] Between,
        byte[][] After,
        bool FormatFirst,
        bool Extensible,
        int Wide,
        int Channels,
        int WordBytes,
        int Frames,
        int Seed)
    {
        public byte[] Sound => WaveBytes.Words(Seed, Frames * Channels * WordBytes);

        public byte[] File()
        {
            byte[] fmt = Extensible
                ? WaveBytes.FmtExtensible(1, Channels, 48_000, WordBytes, 8 * WordBytes)
                : WaveBytes.Fmt(1, Channels, 48_000, WordBytes, 8 * WordBytes);
            byte[] data = WaveBytes.Chunk("data", Sound, Wide == 0 ? null : 0xFFFF_FFFF);
            byte[][] chunks = FormatFirst ? [.. Before, fmt, .. Between, data, .. After] : [.. Before, data, .. Between, fmt, .. After];
            return Wide == 0 ? WaveBytes.Riff(chunks) : WaveBytes.Wide(Wide == 1 ? "RF64" : "BW64", Sound.Length, 0, chunks);
        }
    }
}
