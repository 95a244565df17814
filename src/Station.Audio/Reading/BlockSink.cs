namespace Station.Audio.Reading;

/// <summary>Takes one block, which is valid only during the call; false when no more is needed.</summary>
public delegate bool BlockSink(CaptureBlock block);
