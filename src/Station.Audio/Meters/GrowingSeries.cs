namespace Station.Audio.Meters;

/// <summary>One float a step; room is made ahead where the length is known.</summary>
internal sealed class GrowingSeries(int expected)
{
    private float[] _values = new float[Math.Max(1, expected)];

    public int Count { get; private set; }

    public ReadOnlySpan<float> Values => _values.AsSpan(0, Count);

    public void Add(float value)
    {
        if (Count == _values.Length)
        {
            Array.Resize(ref _values, _values.Length * 2);
        }

        _values[Count++] = value;
    }

    /// <summary>Hands the values over; the series is not to be used any more. Copies only when the length was not the expected one.</summary>
    public float[] Detach()
    {
        if (Count < _values.Length)
        {
            Array.Resize(ref _values, Count);
        }

        return _values;
    }

    /// <summary>Adds a power, kept within what a normal float holds.</summary>
    public void AddPower(double power) => Add(power < 1e-37 ? 0 : (float)Math.Min(power, float.MaxValue));
}
