using System.Globalization;
using System.Runtime.InteropServices;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Music;

/// <summary>Music to samples by ffmpeg through a pipe.</summary>
public static class AudioDecoder
{
    /// <summary>Decodes a stretch.</summary>
    /// <param name="file">Anything ffmpeg reads.</param>
    /// <param name="startSeconds">Where to begin, 0 or more.</param>
    /// <param name="seconds">How much; fewer frames come back when the file ends before.</param>
    /// <param name="sampleRateHz">Rate of the result.</param>
    /// <exception cref="InvalidOperationException">ffmpeg failed or found nothing.</exception>
    public static StereoSignal Decode(string file, double startSeconds, double seconds, int sampleRateHz)
    {
        string[] arguments =
        [
            "-nostdin", "-v", "error", "-threads", "1", "-ss", Text(startSeconds), "-t", Text(seconds), "-i", file, "-vn", "-ac", "2", "-ar", Text(sampleRateHz),
            "-f", "f32le", "-",
        ];
        byte[] bytes = ChildProcess.Run("ffmpeg", arguments, null, stream =>
        {
            using var memory = new MemoryStream();
            stream.CopyTo(memory);
            return memory.ToArray();
        });
        ReadOnlySpan<float> samples = MemoryMarshal.Cast<byte, float>(bytes);
        if (samples.Length < 2)
        {
            throw new InvalidOperationException($"ffmpeg found no sound in {file} at {Text(startSeconds)} s.");
        }

        var signal = new StereoSignal(samples.Length / 2, sampleRateHz);
        for (int i = 0; i < signal.Frames; i++)
        {
            signal.Left[i] = samples[2 * i];
            signal.Right[i] = samples[(2 * i) + 1];
        }

        return signal;
    }

    private static string Text(double value) => value.ToString("0.######", CultureInfo.InvariantCulture);
}
