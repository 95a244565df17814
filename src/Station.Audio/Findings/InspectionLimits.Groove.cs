namespace Station.Audio.Findings;

public sealed partial record InspectionLimits
{
    /// <summary>
    /// Most that two playings of one turn may differ by, dB re the noise of the bare groove, −20 to 0. Two different turns differ by the noise itself, 0 dB; one turn played
    /// twice by what is new in the second playing alone, −3 to −12.5 dB measured on tuning sides, where loops have −0.5 dB and more. Default −2.
    /// Lower values see fewer stuck grooves.
    /// </summary>
    public double SameGrooveDb { get; set; } = -2;

    /// <summary>Least music over the bare groove's noise that makes a repeated turn music, in the band where it stands out most, dB, 0 to 40. Twice as much where
    /// the outline takes it for bare groove. Default 6 (own choice: run-outs may be noisier than gaps).</summary>
    public double RepeatedMusicDb { get; set; } = 6;

    /// <summary>Share of the sheet's music that must have been heard before a groove that repeats to the end is the end of the side, 0 to 1. Default 0.85 (own choice: printed lengths include fades and some gaps).</summary>
    public double WholeSideShare { get; set; } = 0.85;
}
