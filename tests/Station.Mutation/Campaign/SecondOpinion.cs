using System.Diagnostics;
using System.Security.Cryptography;
using Station.Audio.Reading;

namespace Station.Mutation.Campaign;

/// <summary>ffmpeg as the independent decoder of a file that was taken without a word.</summary>
internal static class SecondOpinion
{
    /// <summary>FVER of AIFF-C: its size and the time stamp of the one published version, 0xA2805140 (AIFF-C draft, Apple 1991, from memory).</summary>
    private static ReadOnlySpan<byte> PublishedVersion => [0x46, 0x56, 0x45, 0x52, 0, 0, 0, 4, 0xA2, 0x80, 0x51, 0x40];

    /// <summary>
    /// True where ffmpeg 5.1.9 is known to read by other rules (observed): in an extensible fmt it takes the valid bits for the width of the
    /// word, and an AIFF-C whose FVER states another version than the published one for an AIFF.
    /// </summary>
    public static bool IsNotFitFor(CaptureFormat format, ReadOnlySpan<byte> file) =>
        (format.Container is not ("aiff" or "flac") && format.BitsPerSample != 8 * format.BytesPerSample) || (format.Container == "aifc" && file.IndexOf(PublishedVersion) < 0);

    /// <summary>What ffmpeg makes of the file.</summary>
    /// <param name="path">The file.</param>
    /// <param name="format">Container and words as the project's reader found them; ffmpeg is asked for the same words.</param>
    /// <returns>Bytes of sound and their SHA-256; null when ffmpeg refuses the file.</returns>
    public static (long Bytes, string Sha256)? Of(string path, CaptureFormat format)
    {
        string demuxer = format.Container switch
        {
            "rf64" or "bw64" => "wav",
            "aifc" => "aiff",
            string other => other,
        };
        string raw = format.Words switch
        {
            WordFormat.Int16 => "s16le",
            WordFormat.Int24 => "s24le",
            WordFormat.Int24In32 or WordFormat.Int32 => "s32le",
            WordFormat.Float32 => "f32le",
            WordFormat.Float64 => "f64le",
            _ => throw new UnreachableException(),
        };
        var start = new ProcessStartInfo(
            "ffmpeg", ["-v", "error", "-nostdin", "-f", demuxer, "-i", path, "-map", "0:a:0", "-c:a", "pcm_" + raw, "-f", raw, "-"])
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        using Process process = Process.Start(start) ?? throw new InvalidOperationException("ffmpeg did not start.");
        using StreamReader errors = process.StandardError;
        using Stream sound = process.StandardOutput.BaseStream;
        Task<string> complaints = errors.ReadToEndAsync();
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        byte[] buffer = new byte[64 * 1024];
        long bytes = 0;
        for (int got; (got = sound.Read(buffer)) > 0; bytes += got)
        {
            hash.AppendData(buffer.AsSpan(0, got));
        }

        process.WaitForExit();
        complaints.GetAwaiter().GetResult();
        return process.ExitCode == 0 ? (bytes, Convert.ToHexString(hash.GetCurrentHash())) : null;
    }
}
