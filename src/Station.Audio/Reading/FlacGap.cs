namespace Station.Audio.Reading;

/// <summary>A stretch between two whole frames that holds no frame to read.</summary>
/// <param name="ByteStart">Behind the frame in front of it.</param>
/// <param name="ByteEnd">Where the next whole frame begins; equal to the start when frames were cut out.</param>
/// <param name="FirstFrame">Where in the sound.</param>
/// <param name="Frames">Frames of sound that are missing there, by the numbers around it; 0 when no sound is.</param>
/// <param name="RepeatedBlocks">Whole FLAC frames in the stretch whose place in time was past already.</param>
internal readonly record struct FlacGap(long ByteStart, long ByteEnd, long FirstFrame, long Frames, long RepeatedBlocks);
