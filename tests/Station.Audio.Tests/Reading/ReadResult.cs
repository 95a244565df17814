using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>A capture read to its end, with what must hold for every capture asserted on the way.</summary>
internal sealed record ReadResult(CaptureFormat Format, byte[] Words, float[] Samples, IReadOnlyList<CaptureRepair> Repairs, OriginalLayout Layout)
{
    public BroadcastExtension? Broadcast { get; init; }

    public static CodecTools Codecs { get; } = CodecTools.FromPath();

    public static CaptureRefusal Refusal(string path, ReaderLimits? limits = null)
    {
        using SafeFileHandle file = File.OpenHandle(path);
        CaptureOpening opening = CaptureReader.Open(file, Path.GetFileName(path), limits ?? new ReaderLimits(), Codecs);
        opening.Reader?.Dispose();
        Assert.Null(opening.Reader);
        return Assert.IsType<CaptureRefusal>(opening.Refusal);
    }

    /// <summary>Opens, reads, compares the byte sink with the file and the parts of the layout with the file.</summary>
    public static ReadResult Of(string path, ReaderLimits? limits = null)
    {
        using SafeFileHandle file = File.OpenHandle(path);
        using var seen = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        long seenBytes = 0;
        CaptureOpening opening = CaptureReader.Open(
            file,
            Path.GetFileName(path),
            limits ?? new ReaderLimits(),
            Codecs,
            bytes =>
            {
                seen.AppendData(bytes);
                seenBytes += bytes.Length;
            });
        Assert.True(opening.Refusal is null, opening.Refusal?.OneLine);
        using CaptureReader reader = opening.Reader!;
        using var words = new MemoryStream();
        var samples = new List<float>();
        long next = 0;
        for (CaptureBlock block = reader.Read(); !block.IsEmpty; block = reader.Read())
        {
            Assert.Equal(next, block.FirstFrame);
            Assert.InRange(block.Frames, 1, CaptureReader.MaxBlockFrames);
            Assert.Equal(reader.Format.Channels, block.Channels);
            Assert.Equal(block.Frames * reader.Format.BytesPerFrame, block.Words.Length);
            words.Write(block.Words);
            samples.AddRange(block.Samples);
            next += block.Frames;
        }

        Assert.True(reader.Read().IsEmpty);
        byte[] whole = File.ReadAllBytes(path);
        Assert.Equal(whole.LongLength, seenBytes);
        Assert.Equal(SHA256.HashData(whole), seen.GetHashAndReset());
        OriginalLayout layout = reader.Layout;
        if (!layout.WholeFileIsMaster)
        {
            Assert.Equal(reader.Format.Frames, next);
            using var rebuilt = new MemoryStream();
            layout.CopyHeader(file, rebuilt);
            int reversed = layout.ReversedWordBytes;
            rebuilt.Write(reversed == 0 ? words.ToArray() : AiffBytes.Reversed(words.ToArray(), reversed));
            layout.CopyTrailer(file, rebuilt);
            Assert.Equal(whole, rebuilt.ToArray());
        }

        return new(reader.Format, words.ToArray(), [.. samples], reader.Repairs, layout) { Broadcast = reader.Broadcast };
    }
}
