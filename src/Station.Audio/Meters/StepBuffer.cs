namespace Station.Audio.Meters;

/// <summary>Gathers frames that arrive in any portions into whole steps, so that no reading depends on the portions.</summary>
internal sealed class StepBuffer(int stepFrames, int channels)
{
    private readonly float[] _samples = new float[stepFrames * channels];
    private int _filled;

    /// <summary>What waits for its step to become whole.</summary>
    public ReadOnlySpan<float> Pending => _samples.AsSpan(0, _filled);

    /// <summary>Takes the next whole step from <paramref name="samples"/>, moving it on; copies only where a step straddles two portions.</summary>
    /// <returns>False when the portion is used up; the rest of it is kept for the next.</returns>
    public bool TryTake(ref ReadOnlySpan<float> samples, out ReadOnlySpan<float> step)
    {
        int length = _samples.Length;
        if (_filled == 0 && samples.Length >= length)
        {
            step = samples[..length];
            samples = samples[length..];
            return true;
        }

        int taken = Math.Min(length - _filled, samples.Length);
        samples[..taken].CopyTo(_samples.AsSpan(_filled));
        samples = samples[taken..];
        _filled += taken;
        if (_filled < length)
        {
            step = default;
            return false;
        }

        _filled = 0;
        step = _samples;
        return true;
    }
}
