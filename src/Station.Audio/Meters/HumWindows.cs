namespace Station.Audio.Meters;

/// <summary>Which windows of <see cref="HumMeter"/> hum is looked for in.</summary>
internal sealed class HumWindows
{
    // Kept away from the music's edges, seconds.
    private const double Margin = 0.1;

    public HumWindows(HumMeter meter, SideOutline outline, double stepSeconds)
    {
        double down = (outline.NeedleDownStep ?? 0) * stepSeconds;
        double up = (outline.NeedleUpStep ?? outline.Steps) * stepSeconds;
        double lastNote = outline.Music.IsDefaultOrEmpty ? double.MaxValue : outline.Music[^1].EndStep * stepSeconds;
        All = Mark(_ => true);
        Quiet = Mark(span => outline.Music.All(music =>
            span.End <= (music.FirstStep * stepSeconds) - Margin || span.Start >= (music.EndStep * stepSeconds) + Margin));
        bool[] runOut = Mark(span => span.End > lastNote && span.Start < up);
        QuietButRunOut = [.. Quiet.Select((quiet, window) => quiet && !runOut[window])];
        AllButRunOut = [.. runOut.Select(isRunOut => !isRunOut)];
        Outside = Mark(span => (outline.NeedleDownStep is not null && span.End <= down - Margin) || (outline.NeedleUpStep is not null && span.Start >= up + Margin));
        Played = Mark(span => span.Within(down, up));

        bool[] Mark(Func<SpanSeconds, bool> isChosen) => [.. Enumerable.Range(0, meter.Windows).Select(window => isChosen(meter.Span(window)))];
    }

    /// <summary>Every window.</summary>
    public bool[] All { get; }

    /// <summary>Every window but those of the run-out.</summary>
    public bool[] AllButRunOut { get; }

    /// <summary>Those without music.</summary>
    public bool[] Quiet { get; }

    /// <summary>Those without music that are not of the run-out.</summary>
    public bool[] QuietButRunOut { get; }

    /// <summary>Those with the stylus in the air.</summary>
    public bool[] Outside { get; }

    /// <summary>Those with the stylus in the groove.</summary>
    public bool[] Played { get; }

    /// <summary>Pairs of chosen windows that share no sample and follow each other.</summary>
    public static int Pairs(bool[] chosen) => Enumerable.Range(0, Math.Max(0, chosen.Length - 2)).Count(window => chosen[window] && chosen[window + 2]);

    /// <summary>Positions of the chosen windows.</summary>
    public static int[] Indices(bool[] chosen) => [.. Enumerable.Range(0, chosen.Length).Where(window => chosen[window])];
}
