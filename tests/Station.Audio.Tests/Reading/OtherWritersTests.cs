using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>Wave64 and AIFF as ffmpeg 5.1.9 and Python 3.11's aifc write and read them: no part of the writers in these tests is involved.</summary>
public sealed class OtherWritersTests : IDisposable
{
    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("w64", "pcm_s16le", "w64", "pcm-s16le", "s16le")]
    [InlineData("w64", "pcm_s24le", "w64", "pcm-s24le", "s24le")]
    [InlineData("w64", "pcm_s32le", "w64", "pcm-s32le", "s32le")]
    [InlineData("w64", "pcm_f32le", "w64", "pcm-f32le", "f32le")]
    [InlineData("w64", "pcm_f64le", "w64", "pcm-f64le", "f64le")]
    [InlineData("aiff", "pcm_s16be", "aiff", "pcm-s16be", "s16le")]
    [InlineData("aiff", "pcm_s24be", "aiff", "pcm-s24be", "s24le")]
    [InlineData("aiff", "pcm_s32be", "aiff", "pcm-s32be", "s32le")]
    [InlineData("aiff", "pcm_s16le", "aifc", "pcm-s16le", "s16le")]
    [InlineData("aiff", "pcm_f32be", "aifc", "pcm-f32be", "f32le")]
    [InlineData("aiff", "pcm_f64be", "aifc", "pcm-f64be", "f64le")]
    public void Files_of_ffmpeg_give_the_samples_ffmpeg_reads_back(string muxer, string codec, string container, string encoding, string raw)
    {
        foreach (string sound in new[] { "aevalsrc=0.7*sin(2*PI*997*t)|0.3*sin(2*PI*441*t):s=96000:d=0.7", "sine=441:d=0.5:r=22050" })
        {
            string path = _folder.New("." + muxer);
            Tool.Run("ffmpeg", "-v", "error", "-f", "lavfi", "-i", sound, "-c:a", codec, "-metadata", "title=Low Water", "-f", muxer, path);
            ReadResult result = ReadResult.Of(path);
            Assert.Equal((container, encoding), (result.Format.Container, result.Format.EncodingName));
            Assert.Empty(result.Repairs);
            Assert.Equal(Tool.Decode(path, raw), result.Words);
        }
    }

    // A pipe can't be gone back in: ffmpeg leaves the sizes it began with, as a recorder does that stops in the middle.
    [Theory]
    [InlineData("w64", "pcm_s24le", "s24le")]
    [InlineData("wav", "pcm_s24le", "s24le")]
    public void Files_whose_sizes_were_never_written_are_read_to_the_end_and_told(string muxer, string codec, string raw)
    {
        const string sound = "aevalsrc=0.7*sin(2*PI*997*t)|0.3*sin(2*PI*441*t):s=96000:d=0.7";
        byte[] piped = Tool.Run("ffmpeg", "-v", "error", "-f", "lavfi", "-i", sound, "-c:a", codec, "-f", muxer, "-");
        string whole = _folder.New("." + muxer);
        Tool.Run("ffmpeg", "-v", "error", "-f", "lavfi", "-i", sound, "-c:a", codec, "-f", muxer, whole);
        ReadResult result = ReadResult.Of(_folder.Write(piped));
        Assert.Equal(Tool.Decode(whole, raw), result.Words);
        Assert.All(result.Repairs, r => Assert.True(r.SoundInDoubt));
        Assert.Single(result.Repairs);
    }

    [Theory]
    [InlineData("AIFF", 2)]
    [InlineData("AIFF", 3)]
    [InlineData("AIFF", 4)]
    [InlineData("AIFC", 3)]
    public void Files_of_pythons_aifc_give_its_samples(string form, int bytes)
    {
        byte[] sound = WaveBytes.Words(61, 2 * 2001 * bytes);
        string path = _folder.New(".aif");
        Tool.RunWithInput(
            "python3", AiffBytes.Reversed(sound, bytes), "-W", "ignore", "-c",
            "import aifc,sys\nf=aifc.open(sys.argv[1],'wb')\n"
            + "f.aiff() if sys.argv[2]=='AIFF' else f.aifc()\n"
            + "f.setparams((2,int(sys.argv[3]),88200,0,b'NONE',b''))\nf.writeframes(sys.stdin.buffer.read())\nf.close()",
            path, form, bytes.ToString(System.Globalization.CultureInfo.InvariantCulture));
        ReadResult result = ReadResult.Of(path);
        Assert.Equal((form.ToLowerInvariant(), 88_200, 8 * bytes), (result.Format.Container, result.Format.SampleRateHz, result.Format.BitsPerSample));
        Assert.Empty(result.Repairs);
        Assert.Equal(sound, result.Words);
    }

    // ffmpeg 5.1.9 gives up on depths that are no multiple of eight; Python's reader takes the fewest bytes that hold them, as the format says.
    [Fact]
    public void Python_reads_the_same_words_of_twenty_left_justified_bits()
    {
        byte[] sound = WaveBytes.Words(62, 2 * 2001 * 3);
        for (int i = 0; i < sound.Length; i += 3)
        {
            sound[i] &= 0xF0;
        }

        string path = _folder.Write(AiffBytes.Form("AIFF", AiffBytes.Comm(2, 2001, 20, 96_000), AiffBytes.Ssnd(AiffBytes.Reversed(sound, 3))), ".aif");
        byte[] read = Tool.Run(
            "python3", "-W", "ignore", "-c", "import aifc,sys\nf=aifc.open(sys.argv[1],'rb')\nsys.stdout.buffer.write(f.readframes(f.getnframes()))", path);
        ReadResult result = ReadResult.Of(path);
        Assert.Equal(20, result.Format.BitsPerSample);
        Assert.Equal(AiffBytes.Reversed(read, 3), result.Words);
    }

    // Worked values of the 80-bit format: 0x400E AC44 … is 44,100 in the AIFF document's own example (second-hand); the others computed.
    [Theory]
    [InlineData("400EAC44000000000000", 44_100.0)]
    [InlineData("400EBB80000000000000", 48_000.0)]
    [InlineData("4010BB80000000000000", 192_000.0)]
    [InlineData("400DADDD1745D1745D17", 22_254.545454545456)]
    [InlineData("C00EAC44000000000000", -44_100.0)]
    [InlineData("00000000000000000000", 0.0)]
    public void Rates_of_eighty_bits_are_read(string hex, double hertz) => Assert.Equal(hertz, ExtendedFloat.Read(Convert.FromHexString(hex)));

    [Theory]
    [InlineData("7FFF8000000000000000")]
    [InlineData("FFFFC000000000000000")]
    [InlineData("7FFEFFFFFFFFFFFFFFFF")]
    public void Rates_that_are_no_number_are_none(string hex) => Assert.Null(ExtendedFloat.Read(Convert.FromHexString(hex)));

    [Theory]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(4)]
    [InlineData(8)]
    public void Words_of_any_number_are_turned_round(int wordBytes)
    {
        for (int count = 0; count < 70; count++)
        {
            byte[] words = WaveBytes.Words(count, count * wordBytes);
            byte[] expected = AiffBytes.Reversed(words, wordBytes);
            WordReversal.Reverse(words, wordBytes);
            Assert.Equal(expected, words);
        }
    }
}
