using System.Runtime.InteropServices;

namespace Station.Audio.Meters;

/// <summary>The latest frames in one piece of memory: left and right sample as one 64-bit word; one channel stands on both.</summary>
/// <param name="channels">1 or 2.</param>
/// <param name="keptFrames">Frames that are always there behind the newest step, once so many have come.</param>
/// <param name="stepFrames">Most frames added at once.</param>
internal sealed class FrameHistory(int channels, int keptFrames, int stepFrames)
{
    // Moved to the front only when full: at four times the length each frame is moved a third of a time on average.
    private readonly ulong[] _frames = new ulong[(4 * keptFrames) + stepFrames];

    private int _count;

    /// <summary>Frame of the capture at index 0 of <see cref="Frames"/>.</summary>
    public long FirstFrame { get; private set; }

    /// <summary>Frame behind the last.</summary>
    public long EndFrame => FirstFrame + _count;

    /// <summary>What is there, oldest first.</summary>
    public ReadOnlySpan<ulong> Frames => _frames.AsSpan(0, _count);

    /// <summary>The same as samples, left and right in turn.</summary>
    public ReadOnlySpan<float> Samples => MemoryMarshal.Cast<ulong, float>(Frames);

    /// <summary>Adds a step.</summary>
    /// <returns>Index of its first frame.</returns>
    public int Add(ReadOnlySpan<float> samples)
    {
        int frames = samples.Length / channels;
        if (_count + frames > _frames.Length)
        {
            int dropped = _count - keptFrames;
            _frames.AsSpan(dropped, keptFrames).CopyTo(_frames);
            _count = keptFrames;
            FirstFrame += dropped;
        }

        int first = _count;
        Span<ulong> target = _frames.AsSpan(first, frames);
        if (channels == 2)
        {
            MemoryMarshal.Cast<float, ulong>(samples).CopyTo(target);
        }
        else
        {
            ReadOnlySpan<uint> words = MemoryMarshal.Cast<float, uint>(samples);
            for (int i = 0; i < words.Length; i++)
            {
                target[i] = words[i] * 0x1_0000_0001UL;
            }
        }

        _count += frames;
        return first;
    }
}
