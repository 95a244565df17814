namespace Station.Audio.Findings;

/// <summary>Limits of groove noise, hum, rumble, and what they tell of stylus and replay curve.</summary>
public sealed partial record InspectionLimits
{
    /// <summary>
    /// A-weighted groove noise that is remarked on, dB re a full-scale sine, −80 to 0. Default −46: with music peaking at −6 dBFS some 40 dB below it, where an LP has 50 to
    /// 60 (common practice, no source).
    /// </summary>
    public double SurfaceNoiseNoteDba { get; set; } = -46;

    /// <summary>A-weighted groove noise that a person should look at, dB re a full-scale sine. Default −32 (own choice: louder than worn shellac usually is).</summary>
    public double SurfaceNoiseReviewDba { get; set; } = -32;

    /// <summary>Peak of the hum's fundamental that is remarked on, dBFS, −90 to 0. Default −68 (own choice: below, rumble of a good turntable covers it).</summary>
    public double HumNoteDbfs { get; set; } = -68;

    /// <summary>Peak of the hum's fundamental that a person should look at, dBFS. Default −46 (own choice: 40 dB below music peaking at −6 dBFS; plain to hear in every gap).</summary>
    public double HumReviewDbfs { get; set; } = -46;

    /// <summary>Rumble between 15 and 100 Hz that is remarked on, dB re a full-scale sine, −80 to 0. Default −44.5 (own choice, measured on tuning sides: good ones have −70 to −46).</summary>
    public double RumbleNoteDbfs { get; set; } = -44.5;

    /// <summary>Rumble that a person should look at, dB re a full-scale sine. Default −26 (own choice: it takes headroom from the music).</summary>
    public double RumbleReviewDbfs { get; set; } = -26;

    /// <summary>Loss of treble in the groove noise from landing to lift that a person should look at, dB, 2 to 40. Default 6 (own choice; clean tuning sides wander by up to 2).</summary>
    public double TrebleLossReviewDb { get; set; } = 6;

    /// <summary>
    /// How far groove and music together must lie from those of a side replayed through the curve once, towards no curve at all, in curves, 0.3 to 2. Default 0.6 (own choice; without
    /// the curve the figure is 1 on average, and 0.59 to 1.5 on tuning sides; good records differ by up to 0.47, loudly hissing ones by 0.56).
    /// </summary>
    public double CurveMissingDeviation { get; set; } = 0.6;

    /// <summary>
    /// The same towards the curve applied twice. Default 0.6 (own choice; twice the curve gives 0.63 to 1.4 on tuning sides, good records differ by up to 0.56).
    /// </summary>
    public double CurveDoubledDeviation { get; set; } = 0.6;
}
