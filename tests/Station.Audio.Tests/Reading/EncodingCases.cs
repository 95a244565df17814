namespace Station.Audio.Tests.Reading;

/// <summary>Every container with every encoding, mono and stereo, over the usual sample rates in turn.</summary>
internal static class EncodingCases
{
    private const int Frames = 3001;     // no multiple of any vector, odd
    private static readonly int[] RatesHz = [22_050, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000];

    public static Dictionary<string, Func<IEnumerable<CaptureCase>>> All { get; } = Make();

    private static Dictionary<string, Func<IEnumerable<CaptureCase>>> Make()
    {
        var all = new Dictionary<string, Func<IEnumerable<CaptureCase>>>(StringComparer.Ordinal);
        (string Name, int Tag, int Bytes, string Raw)[] usual = [("s16", 1, 2, "s16le"), ("s24", 1, 3, "s24le"), ("s32", 1, 4, "s32le"), ("f32", 3, 4, "f32le"), ("f64", 3, 8, "f64le")];
        foreach ((string name, int tag, int bytes, string raw) in usual)
        {
            Add("wav-" + name, tag, bytes, raw, (channels, rate, sound) =>
                WaveBytes.Riff(WaveBytes.Fmt(tag, channels, rate, bytes, 8 * bytes), WaveBytes.Chunk("data", sound)));
            Add("wav-ext-" + name, tag, bytes, raw, (channels, rate, sound) =>
                WaveBytes.Riff(WaveBytes.FmtExtensible(tag, channels, rate, bytes, 8 * bytes), WaveBytes.Chunk("data", sound)));
            foreach (string wide in new[] { "RF64", "BW64" })
            {
                Add($"{wide.ToLowerInvariant()}-{name}", tag, bytes, raw, (channels, rate, sound) => WaveBytes.Wide(
                    wide, sound.Length, wide == "RF64" ? Frames : 0, WaveBytes.Fmt(tag, channels, rate, bytes, 8 * bytes), WaveBytes.Chunk("data", sound, 0xFFFF_FFFF)));
            }

            Add("w64-" + name, tag, bytes, raw, (channels, rate, sound) =>
                Wave64Bytes.File(Wave64Bytes.Fmt(WaveBytes.Fmt(tag, channels, rate, bytes, 8 * bytes)), Wave64Bytes.Chunk("data", sound)));
        }

        Add("w64-ext-s24", 1, 3, "s24le", (channels, rate, sound) =>
            Wave64Bytes.File(Wave64Bytes.Fmt(WaveBytes.FmtExtensible(1, channels, rate, 3, 24)), Wave64Bytes.Chunk("data", sound)));

        // ffmpeg 5.1.9 takes the valid bits for the width of the word in these; WaveReadingTests compares the WAV with flac instead.
        Add("wav-ext-24in32", 1, 4, null, (channels, rate, sound) =>
            WaveBytes.Riff(WaveBytes.FmtExtensible(1, channels, rate, 4, 24), WaveBytes.Chunk("data", sound)), unusedBits: 8);
        Add("w64-ext-24in32", 1, 4, null, (channels, rate, sound) =>
            Wave64Bytes.File(Wave64Bytes.Fmt(WaveBytes.FmtExtensible(1, channels, rate, 4, 24)), Wave64Bytes.Chunk("data", sound)), unusedBits: 8);
        Add("wav-ext-20in24", 1, 3, null, (channels, rate, sound) =>
            WaveBytes.Riff(WaveBytes.FmtExtensible(1, channels, rate, 3, 20), WaveBytes.Chunk("data", sound)), unusedBits: 4);

        (string Name, int Bits, string? Raw)[] plain = [("s16", 16, "s16le"), ("s24", 24, "s24le"), ("20in24", 20, null), ("s32", 32, "s32le")];
        foreach ((string name, int bits, string? raw) in plain)
        {
            int bytes = (bits + 7) / 8;
            Add("aiff-" + name, 1, bytes, raw, (channels, rate, sound) =>
                AiffBytes.Form("AIFF", AiffBytes.Comm(channels, Frames, bits, rate), AiffBytes.Ssnd(AiffBytes.Reversed(sound, bytes))), unusedBits: (8 * bytes) - bits);
        }

        (string Name, string Type, int Tag, int Bytes, string Raw, bool Big)[] types =
        [
            ("none-s16", "NONE", 1, 2, "s16le", true), ("none-s24", "NONE", 1, 3, "s24le", true), ("none-s32", "NONE", 1, 4, "s32le", true),
            ("twos-s16", "twos", 1, 2, "s16le", true), ("sowt-s16", "sowt", 1, 2, "s16le", false), ("in24", "in24", 1, 3, "s24le", true),
            ("in32", "in32", 1, 4, "s32le", true), ("fl32", "fl32", 3, 4, "f32le", true), ("fl32-capitals", "FL32", 3, 4, "f32le", true),
            ("fl64", "fl64", 3, 8, "f64le", true), ("fl64-capitals", "FL64", 3, 8, "f64le", true),
        ];
        foreach ((string name, string type, int tag, int bytes, string raw, bool big) in types)
        {
            Add("aifc-" + name, tag, bytes, raw, (channels, rate, sound) => AiffBytes.Form(
                "AIFC", AiffBytes.Fver, AiffBytes.Comm(channels, Frames, 8 * bytes, rate, type), AiffBytes.Ssnd(big ? AiffBytes.Reversed(sound, bytes) : sound)));
        }

        return all;

        void Add(string id, int tag, int bytes, string? raw, Func<int, int, byte[], byte[]> file, int unusedBits = 0)
        {
            int row = all.Count;
            all.Add(id, () => new[] { 1, 2 }.Select(channels =>
            {
                byte[] sound = Sound(tag, bytes, channels, unusedBits, seed: row);
                return CaptureCase.Of(file(channels, RatesHz[(row + (3 * channels)) % RatesHz.Length], sound), sound, raw);
            }));
        }
    }

    private static byte[] Sound(int tag, int bytes, int channels, int unusedBits, int seed)
    {
        if (tag == 3)
        {
            return WaveBytes.Floats(seed, Frames * channels, bytes);
        }

        byte[] words = WaveBytes.Words(seed, Frames * channels * bytes);
        for (int i = 0; unusedBits > 0 && i < words.Length; i += bytes)
        {
            words[i] &= (byte)(0xFF << unusedBits);
        }

        return words;
    }
}
