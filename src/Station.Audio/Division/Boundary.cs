namespace Station.Audio.Division;

/// <summary>A place where one track ends and the next begins.</summary>
/// <param name="FirstStep">First quiet step: where a track ends.</param>
/// <param name="EndStep">First step of the next track; the same where no gap was heard.</param>
/// <param name="Heard">False where only the sheet's lengths say so.</param>
/// <param name="Confidence">0 to 1 that tracks meet here.</param>
internal sealed record Boundary(int FirstStep, int EndStep, bool Heard, double Confidence);
