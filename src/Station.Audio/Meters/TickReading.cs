using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>The ticks of a capture and the usual prediction error they stand in.</summary>
public sealed record TickReading
{
    /// <summary>How far a tick stands above the usual prediction error around it at least, dB.</summary>
    public static double LeastStrengthDb { get; } = 20 * Math.Log10(TickChannel.LeastStrength);

    /// <summary>In order of time; thinned evenly where they are very many.</summary>
    public ImmutableArray<Tick> Ticks { get; init; } = [];

    /// <summary>One tick in so many is listed.</summary>
    public int ListedEvery { get; init; } = 1;

    /// <summary>All ticks, exactly.</summary>
    public long Count { get; init; }

    /// <summary>The usual prediction error of each step, the worse channel, in codes of 2/3 dB from −140 dB re full scale; see <see cref="UsualDb"/>.</summary>
    internal byte[] UsualCodes { get; init; } = [];

    /// <summary>The ticks and fainter impulses, one of each step at most.</summary>
    internal FaintTicks Faint { get; init; } = new();

    /// <summary>Steps of which the usual error is known.</summary>
    public int Steps => UsualCodes.Length;

    /// <summary>The usual prediction error of a step, the worse channel, dB re full scale, −140 to +30.</summary>
    public double UsualDb(int step) => (UsualCodes[step] / 1.5) - 140;

    internal static byte CodeOf(float error) =>
        error <= 0 ? (byte)0 : (byte)Math.Clamp(Math.Round(1.5 * (140 + (20 * Math.Log10(error)))), 0, 255);
}
