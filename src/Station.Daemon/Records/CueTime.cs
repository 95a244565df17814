using System.Globalization;

namespace Station.Daemon.Records;

/// <summary>A time in a cue sheet: <c>mm:ss:ff</c> with 75 parts to the second.</summary>
/// <param name="Parts">Seventy-fifths of a second from the start of the file. (The compact disc calls them frames; here a frame is one instant of sound.)</param>
internal readonly record struct CueTime(int Parts)
{
    /// <summary>A compact disc's second has 75 sectors (IEC 60908).</summary>
    public const int PartsPerSecond = 75;

    private const int MaxMinuteDigits = 4;

    /// <summary>Reads minutes (one to four digits, 99 is no limit), seconds 00 to 59 and parts 00 to 74.</summary>
    public static bool TryParse(string text, out CueTime time)
    {
        time = default;
        string[] parts = text.Split(':');
        if (parts.Length != 3 || parts[0].Length is < 1 or > MaxMinuteDigits || parts[1].Length != 2 || parts[2].Length != 2
            || parts.Any(p => p.AsSpan().ContainsAnyExceptInRange('0', '9')))
        {
            return false;
        }

        int minutes = int.Parse(parts[0], CultureInfo.InvariantCulture);
        int seconds = int.Parse(parts[1], CultureInfo.InvariantCulture);
        int rest = int.Parse(parts[2], CultureInfo.InvariantCulture);
        time = new CueTime((((minutes * 60) + seconds) * PartsPerSecond) + rest);
        return seconds < 60 && rest < PartsPerSecond;
    }

    /// <summary>The frame this time stands for: rounded down where a part is no whole number of frames (32 and 22.05 kHz have such).</summary>
    /// <param name="sampleRateHz">Frames per second.</param>
    public long ToFrame(int sampleRateHz) => (long)Parts * sampleRateHz / PartsPerSecond;

    public override string ToString() => string.Create(
        CultureInfo.InvariantCulture, $"{Parts / PartsPerSecond / 60:00}:{Parts / PartsPerSecond % 60:00}:{Parts % PartsPerSecond:00}");
}
