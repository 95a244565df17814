using System.Collections.Immutable;
using System.Globalization;

namespace Station.Daemon.Records;

/// <summary>
/// The speed a disc is meant to turn at, and the speeds that count as right for it.
/// </summary>
/// <remarks>
/// "33" is 33 1/3 rev/min and "45" is 45 rev/min (IEC 60098). "78" is two speeds: 7200/92 = 78.26 rev/min where the mains has 60 Hz and 6000/77 = 77.92 where it has
/// 50 Hz; either is right. "16" is 16 2/3. Every other figure means itself.
/// </remarks>
internal sealed record NominalSpeed
{
    public const double MinRpm = 16;
    public const double MaxRpm = 100;

    /// <summary>7200/92: the 78 of 60 Hz mains.</summary>
    public const double Rpm78At60Hz = 7200.0 / 92;

    /// <summary>6000/77: the 78 of 50 Hz mains.</summary>
    public const double Rpm78At50Hz = 6000.0 / 77;

    private NominalSpeed(string text, params ImmutableArray<double> acceptedRpm)
    {
        Text = text;
        AcceptedRpm = acceptedRpm;
    }

    /// <summary>As an operator would write it: <c>33 1/3</c>, <c>45</c>, <c>78</c>, <c>76.59</c>.</summary>
    public string Text { get; }

    /// <summary>Revolutions per minute; the first of <see cref="AcceptedRpm"/>.</summary>
    public double Rpm => AcceptedRpm[0];

    /// <summary>Every speed that is right for this disc, rev/min; at least one.</summary>
    public ImmutableArray<double> AcceptedRpm { get; }

    /// <summary>How long a turn takes at <see cref="Rpm"/>, in seconds.</summary>
    public double SecondsPerTurn => 60 / Rpm;

    /// <summary>The accepted speed nearest to a measured one, rev/min.</summary>
    public double NearestAcceptedRpm(double measuredRpm) => AcceptedRpm.MinBy(rpm => Math.Abs(rpm - measuredRpm));

    /// <summary>Reads a speed as it stands in a record sheet; false when it is no number from 16 to 100.</summary>
    public static bool TryParse(string text, out NominalSpeed? speed)
    {
        speed = text switch
        {
            "33 1/3" => Of(33),
            "16 2/3" => Of(16),
            _ => double.TryParse(text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double rpm) && rpm is >= MinRpm and <= MaxRpm
                ? Of(rpm)
                : null,
        };
        return speed is not null;
    }

    /// <summary>The speed an operator means by a figure.</summary>
    /// <param name="rpm">Rev/min, 16 to 100. 33 and everything written for it (33.3, 33.33) is 33 1/3; 78 is both mains speeds.</param>
    public static NominalSpeed Of(double rpm)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(rpm, MinRpm);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(rpm, MaxRpm);
        return rpm switch
        {
            33 or (>= 33.3 and <= 33.34) => new("33 1/3", 100.0 / 3),
            16 or (>= 16.6 and <= 16.67) => new("16 2/3", 50.0 / 3),
            78 => new("78", Rpm78At60Hz, Rpm78At50Hz),
            78.26 => new("78.26", Rpm78At60Hz),
            77.92 => new("77.92", Rpm78At50Hz),
            _ => new(rpm.ToString("0.###", CultureInfo.InvariantCulture), rpm),
        };
    }

    public bool Equals(NominalSpeed? other) => other is not null && AcceptedRpm.SequenceEqual(other.AcceptedRpm);

    public override int GetHashCode() => Rpm.GetHashCode();

    public override string ToString() => Text + " rev/min";
}
