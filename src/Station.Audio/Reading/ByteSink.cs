namespace Station.Audio.Reading;

/// <summary>Receives bytes in order; the memory is valid only during the call.</summary>
public delegate void ByteSink(ReadOnlySpan<byte> bytes);
