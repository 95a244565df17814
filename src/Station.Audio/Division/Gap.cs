namespace Station.Audio.Division;

/// <summary>A quiet stretch between music.</summary>
/// <param name="FirstStep">First quiet step.</param>
/// <param name="EndStep">First step of music again.</param>
/// <param name="Confidence">0 to 1 that it is a gap between tracks.</param>
internal sealed record Gap(int FirstStep, int EndStep, double Confidence)
{
    public int Steps => EndStep - FirstStep;
}
