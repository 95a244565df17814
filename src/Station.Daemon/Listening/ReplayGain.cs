using System.Globalization;

namespace Station.Daemon.Listening;

/// <summary>
/// Level matching by tags, after the ReplayGain 2.0 specification: the gain that brings a track's BS.1770 integrated loudness to −18 LUFS, as
/// text such as <c>-6.25 dB</c>, and the sample peak, 1.000000 being full scale.
/// </summary>
internal static class ReplayGain
{
    /// <summary>The loudness players aim at, LUFS.</summary>
    public const double ReferenceLufs = -18;

    /// <summary>Gain in decibels; null when there is no loudness (silence has none).</summary>
    public static double? GainDb(double? loudnessLufs) => loudnessLufs is { } lufs && double.IsFinite(lufs) ? ReferenceLufs - lufs : null;

    /// <summary>Two decimals with a sign, a blank, <c>dB</c>; null when there is no loudness.</summary>
    public static string? GainText(double? loudnessLufs)
    {
        if (GainDb(loudnessLufs) is not { } gain)
        {
            return null;
        }

        // Rounded first, so that nothing reads "-0.00 dB".
        double rounded = Math.Round(gain, 2, MidpointRounding.AwayFromZero);
        return rounded.ToString("+0.00;-0.00;+0.00", CultureInfo.InvariantCulture) + " dB";
    }

    /// <summary>Six decimals, linear; values above 1 are allowed. Null when there is no peak or it is no number.</summary>
    public static string? PeakText(double? peak) =>
        peak is { } value && double.IsFinite(value) && value >= 0 ? value.ToString("0.000000", CultureInfo.InvariantCulture) : null;

    /// <summary>
    /// RFC 7845 §5.2.1: the gain to −23 LUFS in 256ths of a decibel, a whole number from −32768 to 32767; null when there is no loudness.
    /// </summary>
    public static string? R128Text(double? loudnessLufs) => loudnessLufs is { } lufs && double.IsFinite(lufs)
        ? Math.Clamp(Math.Round(256 * (-23 - lufs), MidpointRounding.AwayFromZero), short.MinValue, short.MaxValue).ToString("0", CultureInfo.InvariantCulture)
        : null;
}
