namespace Station.Audio.Meters;

/// <summary>Counts invalid samples and gives the other meters something finite in their place.</summary>
internal sealed class InvalidSampleMeter(int channels, int maxPositions)
{
    /// <summary>
    /// +24 dBFS. A larger finite sample is damage, not sound: it enters the other meters with this magnitude, so that one wild value cannot
    /// outweigh a whole side.
    /// </summary>
    public const float LargestCredible = 16f;

    private readonly List<InvalidSample> _first = [];
    private readonly long[] _perChannel = new long[channels];
    private long _notANumber;
    private long _infinite;
    private long _beyond;
    private long? _lastFrame;
    private double _largest;

    /// <summary>Counts, and replaces in place: 0 for what is not finite, ±16 for what is larger.</summary>
    public void CountAndReplace(Span<float> samples, long firstFrame)
    {
        for (int i = 0; i < samples.Length; i++)
        {
            float sample = samples[i];
            if (Math.Abs(sample) <= 1f)
            {
                continue;
            }

            InvalidSampleKind kind;
            if (float.IsNaN(sample))
            {
                kind = InvalidSampleKind.NotANumber;
                _notANumber++;
                samples[i] = 0;
            }
            else if (float.IsInfinity(sample))
            {
                kind = InvalidSampleKind.Infinite;
                _infinite++;
                samples[i] = 0;
            }
            else
            {
                kind = InvalidSampleKind.BeyondFullScale;
                _beyond++;
                _largest = Math.Max(_largest, Math.Abs(sample));
                samples[i] = Math.Clamp(sample, -LargestCredible, LargestCredible);
            }

            _perChannel[i % channels]++;
            long frame = firstFrame + (i / channels);
            _lastFrame = frame;
            if (_first.Count < maxPositions)
            {
                _first.Add(new InvalidSample(i % channels, frame, kind));
            }
        }
    }

    public InvalidSampleReading Finish() => new()
    {
        NotANumber = _notANumber,
        Infinite = _infinite,
        BeyondFullScale = _beyond,
        LargestMagnitude = _largest,
        PerChannel = [.. _perChannel],
        First = [.. _first],
        LastFrame = _lastFrame,
    };
}
