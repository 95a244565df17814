using Station.Audio.Meters;

namespace Station.Audio.Identity;

/// <summary>
/// The bands a programme is told by. Idea and decision rule: J. Haitsma, T. Kalker, "A Highly Robust Audio Fingerprinting System", ISMIR 2002
/// (from memory of the paper): signs of energy differences between neighbouring bands and moments, compared by the share of bits that differ.
/// The figures are this project's own: fewer and wider bands and slower words, so that a side takes 30 kB and a turntable 2 % off still matches.
/// </summary>
internal static class ProgrammeBands
{
    /// <summary>Neighbouring bands; one bit of a word for each pair.</summary>
    public const int Count = ProgrammeFingerprint.BitsPerWord + 1;

    /// <summary>Vector lanes the bands are laid out in; the last ones stay empty.</summary>
    public const int Lanes = 24;

    /// <summary>Lowest band's centre, Hz: above rumble and the strongest harmonics of the mains.</summary>
    private const double LowHz = 260;

    /// <summary>Highest band's centre, Hz: old and worn discs still carry it well above their noise.</summary>
    private const double HighHz = 1_900;

    // Two sections in a row are narrower than one by √(√2 − 1) = 0.644; each is made wider by as much, so that neighbours meet at −3 dB.
    private const double SectionWidening = 0.6436;

    /// <summary>Centre of a band, Hz; evenly spaced in pitch, about 2 semitones apart.</summary>
    public static double CentreHz(int band) => LowHz * Math.Pow(HighHz / LowHz, (double)band / (Count - 1));

    /// <summary>One of the two equal band-pass sections of a band: b0, 0, −b0; gain 0 dB at the centre (bilinear transform of (s/Q)/(s² + s/Q + 1)).</summary>
    /// <param name="rateHz">Rate the section runs at, at least 5,000.</param>
    public static BiquadCoefficients Section(int band, double rateHz)
    {
        double octaves = Math.Log2(HighHz / LowHz) / (Count - 1);
        double w = 2 * Math.PI * CentreHz(band) / rateHz;

        // The bilinear transform narrows a band the more the higher it lies: by sin(w) ÷ w where it is narrow. Undone here.
        double q = SectionWidening / (2 * Math.Sinh(Math.Log(2) / 2 * octaves * w / Math.Sin(w)));
        double alpha = Math.Sin(w) / (2 * q);
        return new BiquadCoefficients(alpha / (1 + alpha), 0, -alpha / (1 + alpha), -2 * Math.Cos(w) / (1 + alpha), (1 - alpha) / (1 + alpha));
    }
}
