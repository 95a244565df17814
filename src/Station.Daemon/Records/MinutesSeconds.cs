using System.Globalization;

namespace Station.Daemon.Records;

/// <summary>Times as a sleeve prints them: <c>m:ss</c> or <c>m:ss.f</c>, minutes 0 to 999, seconds 00 to 59, up to three decimals.</summary>
internal static class MinutesSeconds
{
    public static bool TryParse(string text, out double seconds)
    {
        seconds = 0;
        int colon = text.IndexOf(':', StringComparison.Ordinal);
        if (colon is < 1 or > 3 || text.Length < colon + 3)
        {
            return false;
        }

        ReadOnlySpan<char> minutes = text.AsSpan(0, colon);
        ReadOnlySpan<char> whole = text.AsSpan(colon + 1, 2);
        ReadOnlySpan<char> rest = text.AsSpan(colon + 3);
        bool decimals = rest.IsEmpty || (rest.Length is >= 2 and <= 4 && rest[0] == '.' && AreDigits(rest[1..]));
        if (!AreDigits(minutes) || !AreDigits(whole) || whole[0] > '5' || !decimals)
        {
            return false;
        }

        seconds = (60.0 * int.Parse(minutes, CultureInfo.InvariantCulture))
            + double.Parse(text.AsSpan(colon + 1), NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture);
        return true;
    }

    /// <summary>As <c>m:ss.f</c>.</summary>
    /// <param name="seconds">0 and up.</param>
    public static string Format(double seconds)
    {
        long tenths = (long)Math.Round(seconds * 10);
        return string.Create(CultureInfo.InvariantCulture, $"{tenths / 600}:{tenths % 600 / 10:00}.{tenths % 10}");
    }

    private static bool AreDigits(ReadOnlySpan<char> text) => !text.ContainsAnyExceptInRange('0', '9');
}
