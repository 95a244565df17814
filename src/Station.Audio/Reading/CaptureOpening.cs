namespace Station.Audio.Reading;

/// <summary>A reader, or why there is none. Exactly one of the two is set.</summary>
/// <param name="Reader">Ready to read from the first frame; the caller disposes it.</param>
/// <param name="Refusal">What the header shows to be wrong.</param>
public readonly record struct CaptureOpening(CaptureReader? Reader, CaptureRefusal? Refusal);
