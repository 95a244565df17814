namespace Station.Audio.Synthesis;

/// <summary>
/// What a speck or scratch does to the stylus: a short push and a weaker, longer return, 30 to 250 µs. The replay curve does the rest.
/// </summary>
internal sealed class TickShapes
{
    public const int Count = 8;

    private const double ShortestSeconds = 30e-6;
    private const double LongestSeconds = 250e-6;
    private const double ReturnSize = 0.35;

    private readonly float[][] _shapes = new float[Count][];

    public TickShapes(int sampleRateHz, ReplayCurve curve)
    {
        for (int i = 0; i < Count; i++)
        {
            double seconds = ShortestSeconds * Math.Pow(LongestSeconds / ShortestSeconds, i / (Count - 1.0));
            int push = Math.Max(1, (int)Math.Round(seconds * sampleRateHz));
            float[] shape = new float[3 * push];
            for (int n = 0; n < shape.Length; n++)
            {
                shape[n] = n < push
                    ? (float)Math.Pow(Math.Sin(Math.PI * (n + 0.5) / push), 2)
                    : (float)(-ReturnSize * Math.Pow(Math.Sin(Math.PI * (n - push + 0.5) / (2 * push)), 2));
            }

            // Set the peak behind the replay curve to 1: it lies within the shape or just after it.
            float[] played = new float[shape.Length + 64];
            shape.CopyTo(played, 0);
            var state = default(ReplayCurve.State);
            curve.Apply(played, ref state);
            float peak = 0;
            foreach (float sample in played)
            {
                peak = Math.Max(peak, Math.Abs(sample));
            }

            for (int n = 0; n < shape.Length; n++)
            {
                shape[n] /= peak;
            }

            _shapes[i] = shape;
        }
    }

    public ReadOnlySpan<float> this[int width] => _shapes[width];
}
