namespace Station.Audio.Meters;

/// <summary>A stretch of time from the capture's first frame, seconds.</summary>
internal readonly record struct SpanSeconds(double Start, double End)
{
    /// <summary>Whether it lies wholly within another.</summary>
    public bool Within(double start, double end) => Start >= start && End <= end;
}
