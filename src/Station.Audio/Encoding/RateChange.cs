using NAudio.Dsp;

namespace Station.Audio.Encoding;

/// <summary>
/// Brings some frames out of a longer sound to another sample rate, as the same frames of the whole sound would come out: every output frame has its place
/// on one grid that begins with the sound, so neighbours which are brought over by themselves join.
/// </summary>
/// <remarks>
/// The library's windowed-sinc interpolator does the work, with no delay. With 256 taps a tone of 20 kHz keeps its level to 0.01 dB from 48 kHz and more down to 44.1 kHz, and what
/// lies a tenth and more above the new half rate is 100 dB down (measured in RateChangeTests, to 192 kHz).
/// </remarks>
public sealed class RateChange
{
    /// <summary>Frames wanted before the first one and after the last one, as far as there are any: half the taps, and what the grid may be off.</summary>
    public const int ContextFrames = 512;

    private const int Taps = 256;
    private const int Phases = 512;      // interpolated between

    private readonly WdlResampler _resampler = new();
    private readonly int _channels;
    private readonly long _endOutput;
    private readonly long _firstOutput;
    private long _output;       // the next frame that comes out, on the grid
    private int _skip;          // frames still to be passed over before the grid's first place
    private float[] _made = [];

    /// <summary>Prepares for one stretch.</summary>
    /// <param name="fromHz">Rate of the frames that come in.</param>
    /// <param name="toHz">Rate of the frames that go out.</param>
    /// <param name="channels">Interleaved, 1 or 2.</param>
    /// <param name="inputFrom">The first frame that will be handed in: <see cref="ContextFrames"/> before <paramref name="startFrame"/>, or 0.</param>
    /// <param name="startFrame">The first frame wanted.</param>
    /// <param name="endFrame">Exclusive.</param>
    /// <exception cref="ArgumentOutOfRangeException">A rate or the order of the frames makes no sense.</exception>
    public RateChange(int fromHz, int toHz, int channels, long inputFrom, long startFrame, long endFrame)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(fromHz, 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(toHz, 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(channels, 1);
        ArgumentOutOfRangeException.ThrowIfNegative(inputFrom);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(inputFrom, startFrame);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(startFrame, endFrame);
        _channels = channels;
        _firstOutput = FrameAt(startFrame, fromHz, toHz);
        _endOutput = FrameAt(endFrame, fromHz, toHz);
        _output = (long)Int128.CreateChecked(((Int128)inputFrom * toHz + fromHz - 1) / fromHz);
        Int128 offset = ((Int128)_output * fromHz) - ((Int128)inputFrom * toHz);     // in toHz-ths of a frame that comes in
        _skip = (int)(offset / toHz);
        _resampler.SetMode(true, 0, true, Taps, Phases);
        _resampler.SetFeedMode(true);
        _resampler.SetRates(fromHz, toHz);
        _resampler.Reset((double)(offset % toHz) / toHz);
    }

    /// <summary>Frames that come out in all: those between the two ends, each rounded to the nearest place on the grid.</summary>
    public long Frames => _endOutput - _firstOutput;

    /// <summary>Where a frame lies on the grid of another rate: the nearest place, halves upwards.</summary>
    public static long FrameAt(long frame, int fromHz, int toHz) => (long)((((Int128)frame * toHz * 2) + fromHz) / (2 * (Int128)fromHz));

    /// <summary>Takes some frames.</summary>
    /// <param name="samples">Interleaved whole frames, following those before.</param>
    /// <returns>What has come out by now, interleaved; valid until the next call.</returns>
    public ReadOnlySpan<float> Take(ReadOnlySpan<float> samples)
    {
        int passed = (int)Math.Min(_skip, samples.Length / _channels);
        _skip -= passed;
        samples = samples[(passed * _channels)..];
        int made = 0;
        while (!samples.IsEmpty)
        {
            int frames = Math.Min(samples.Length / _channels, _resampler.ResamplePrepare(samples.Length / _channels, _channels, out Span<float> input));
            samples[..(frames * _channels)].CopyTo(input);
            samples = samples[(frames * _channels)..];
            made += Come(frames, made);
        }

        return _made.AsSpan(0, made * _channels);
    }

    /// <summary>What is still to come when nothing follows: the rest, as if silence did.</summary>
    /// <returns>As <see cref="Take"/>.</returns>
    public ReadOnlySpan<float> End()
    {
        int made = 0;
        while (_output < _endOutput)
        {
            int frames = _resampler.ResamplePrepare(Taps, _channels, out Span<float> input);
            input[..(frames * _channels)].Clear();
            made += Come(frames, made);
        }

        return _made.AsSpan(0, made * _channels);
    }

    private int Come(int inputFrames, int made)
    {
        int room = inputFrames + Taps;      // rates go down, so no more frames come out than went in
        if (_made.Length < (made + room) * _channels)
        {
            Array.Resize(ref _made, Math.Max(2 * _made.Length, (made + room) * _channels));
        }

        int came = _resampler.ResampleOut(_made.AsSpan(made * _channels, room * _channels), inputFrames, room, _channels);
        long first = _output;
        _output += came;
        int from = (int)Math.Clamp(_firstOutput - first, 0, came);
        int to = (int)Math.Clamp(_endOutput - first, 0, came);
        if (from > 0 && to > from)
        {
            _made.AsSpan((made + from) * _channels, (to - from) * _channels).CopyTo(_made.AsSpan(made * _channels));
        }

        return Math.Max(0, to - from);
    }
}
