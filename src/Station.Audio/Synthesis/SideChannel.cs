namespace Station.Audio.Synthesis;

/// <summary>One channel of a stereo side; the value is its place in a frame.</summary>
public enum SideChannel
{
    /// <summary>Inner groove wall, first sample of a frame.</summary>
    Left = 0,

    /// <summary>Outer groove wall, second sample of a frame.</summary>
    Right = 1,
}
