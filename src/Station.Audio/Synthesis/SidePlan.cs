using System.Collections.Immutable;

namespace Station.Audio.Synthesis;

/// <summary>
/// What a synthesised capture of one record side holds, from the needle drop to the lift. The same plan always gives the same
/// samples.
/// </summary>
/// <remarks>
/// In time: electronics only, the needle drop, the lead-in groove, the tracks with gaps between them, the run-out groove (about
/// one turn of lead-out, then the closed groove with one thump per turn), the lift, electronics only.
/// The signal chain: music and groove noise, wiring faults, hum and the noise of the electronics, the level control, the
/// converter's hard clip.
/// Levels in dBFS called RMS are relative to a full-scale sine (AES17); levels called peak are relative to the full-scale sample.
/// </remarks>
public sealed record SidePlan
{
    /// <summary>Everything drawn at random follows from it, but for the music when <see cref="MusicSeed"/> is given.</summary>
    public int Seed { get; init; } = 31;

    /// <summary>The performance follows from it: two plans with one music seed and other seeds are two copies of one disc. Null takes <see cref="Seed"/>.</summary>
    public int? MusicSeed { get; init; }

    /// <summary>Frames per second: 22,050 to 192,000.</summary>
    public int SampleRateHz { get; init; } = 44100;

    /// <summary>Depth of the converter and of the file: 16 (written with triangular dither) or 24.</summary>
    public int BitsPerSample { get; init; } = 16;

    /// <summary>The tracks in playing order; none makes a blank side.</summary>
    public ImmutableArray<TrackPlan> Tracks { get; init; } = [];

    /// <summary>From the start of the file to the needle drop, seconds.</summary>
    public double PreRollSeconds { get; init; } = 1.2;

    /// <summary>From the needle drop to the first note, seconds.</summary>
    public double LeadInSeconds { get; init; } = 4;

    /// <summary>Groove noise between two tracks, seconds, where the track itself does not say otherwise.</summary>
    public double GapSeconds { get; init; } = 2.5;

    /// <summary>From the end of the last track to the lift, seconds. The first 1.25 turns are the lead-out.</summary>
    public double RunOutSeconds { get; init; } = 12;

    /// <summary>From the lift to the end of the file, seconds.</summary>
    public double PostRollSeconds { get; init; } = 1;

    /// <summary>Where the stylus is taken out of the groove on the way, in order, apart from each other and before the lift at the end.</summary>
    public ImmutableArray<LiftPlan> Lifts { get; init; } = [];

    /// <summary>Turns per minute. Default 33 1/3.</summary>
    public double Rpm { get; init; } = 100 / 3.0;

    /// <summary>
    /// RMS level of one channel's groove noise between 200 Hz and 9 kHz at the middle of the side, dBFS, ticks and the arm's
    /// resonance not counted. −62 is a clean modern disc, −45 a worn one (common practice, no source).
    /// </summary>
    public double GrooveNoiseDbfs { get; init; } = -62;

    /// <summary>How much louder the groove noise is in side (L−R) than in mid (L+R), dB: dust and wear move the stylus up and down.</summary>
    public double NoiseSideOverMidDb { get; init; } = 4;

    /// <summary>Rise of the groove noise from the first groove to the last, dB (negative falls). A slow wander of ±0.7 dB comes on top.</summary>
    public double NoiseDriftDb { get; init; } = 2;

    /// <summary>Peak to peak swing of the groove noise within each turn, dB.</summary>
    public double NoiseTurnSwingDb { get; init; } = 0.8;

    /// <summary>RMS level of the arm's 12 Hz resonance over that of the groove noise, dB. There only while the stylus is in the groove.</summary>
    public double ArmResonanceOverNoiseDb { get; init; } = 13;

    /// <summary>Corner of a second-order high-pass in the phono stage acting on all the groove gives but the music, Hz; 0 for none.</summary>
    public double RumbleFilterHz { get; init; }

    /// <summary>Ticks per minute in the groove on average, at random instants.</summary>
    public double TicksPerMinute { get; init; } = 14;

    /// <summary>Peak of the largest tick, dBFS. Sizes reach down to 18 dB above the groove noise, small ones being commoner.</summary>
    public double LargestTickDbfs { get; init; } = -18;

    /// <summary>Peak of the thump of the needle drop, dBFS.</summary>
    public double NeedleDropDbfs { get; init; } = -14;

    /// <summary>Peak of the thump once per turn of the closed groove, dBFS.</summary>
    public double RunOutThumpDbfs { get; init; } = -32;

    /// <summary>RMS noise of phono stage and converter, dBFS over the whole band, there even without a record.</summary>
    public double ElectronicsNoiseDbfs { get; init; } = -88;

    /// <summary>Programme peak (of the loudest track, ticks left out), dBFS. Each track is measured once beforehand and set to it.</summary>
    public double PeakDbfs { get; init; } = -8;

    /// <summary>
    /// When above 0 the level control stands so far up that the programme peak would reach this many dB above full scale, and the
    /// converter clips: the whole signal, noise included, is raised by OverdriveDb − PeakDbfs.
    /// </summary>
    public double OverdriveDb { get; init; }

    /// <summary>Both channels carry the same music (the groove noise stays in stereo).</summary>
    public bool MonoDisc { get; init; }

    /// <summary>A channel that carries electronics noise only; null for none.</summary>
    public SideChannel? DeadChannel { get; init; }

    /// <summary>A channel wired the wrong way round; null for none.</summary>
    public SideChannel? ReversedChannel { get; init; }

    /// <summary>Mains hum through the whole file; null for none.</summary>
    public HumPlan? Hum { get; init; }

    /// <summary>Length of the whole file, seconds, without rendering anything.</summary>
    /// <exception cref="ArgumentException">The plan cannot be made into a side.</exception>
    public double TotalSeconds
    {
        get
        {
            Check();
            return (double)new SideTimeline(this).Frames / SampleRateHz;
        }
    }

    /// <summary>A side of the invented record HL-0031, see <see cref="DemoRecord"/>.</summary>
    /// <param name="side">'A' or 'B'.</param>
    /// <param name="length">How long the tracks are made.</param>
    /// <param name="seed">Another seed is another performance and another copy of the disc.</param>
    /// <exception cref="ArgumentOutOfRangeException">The record has no such side.</exception>
    public static SidePlan Demo(char side = 'A', DemoLength length = DemoLength.Minutes, int seed = 31) => DemoRecord.Plan(side, length, seed);

    /// <summary>Refuses a plan that cannot be made into a side.</summary>
    /// <exception cref="ArgumentException">One line naming the property, what was expected and what was found.</exception>
    internal void Check()
    {
        Require(SampleRateHz is >= 22050 and <= 192000, nameof(SampleRateHz), "22050 to 192000", SampleRateHz);
        Require(BitsPerSample is 16 or 24, nameof(BitsPerSample), "16 or 24", BitsPerSample);
        RequireDuration(PreRollSeconds, nameof(PreRollSeconds));
        RequireDuration(LeadInSeconds, nameof(LeadInSeconds));
        RequireDuration(GapSeconds, nameof(GapSeconds));
        RequireDuration(RunOutSeconds, nameof(RunOutSeconds));
        RequireDuration(PostRollSeconds, nameof(PostRollSeconds));
        Require(Rpm is >= 10 and <= 120, nameof(Rpm), "10 to 120", Rpm);
        Require(GrooveNoiseDbfs is >= -120 and <= -20, nameof(GrooveNoiseDbfs), "-120 to -20", GrooveNoiseDbfs);
        Require(TicksPerMinute is >= 0 and <= 6000, nameof(TicksPerMinute), "0 to 6000", TicksPerMinute);
        Require(PeakDbfs is >= -80 and <= 0, nameof(PeakDbfs), "-80 to 0", PeakDbfs);
        Require(OverdriveDb is >= 0 and <= 40, nameof(OverdriveDb), "0 to 40", OverdriveDb);
        Require(LargestTickDbfs <= 0, nameof(LargestTickDbfs), "at most 0", LargestTickDbfs);
        Require(NeedleDropDbfs <= 0, nameof(NeedleDropDbfs), "at most 0", NeedleDropDbfs);
        Require(RunOutThumpDbfs <= 0, nameof(RunOutThumpDbfs), "at most 0", RunOutThumpDbfs);
        Require(RumbleFilterHz is >= 0 and <= 200, nameof(RumbleFilterHz), "0 to 200", RumbleFilterHz);
        double free = PreRollSeconds;
        foreach (LiftPlan lift in Lifts)
        {
            Require(lift.Seconds is >= 0.1 and <= 3600, "LiftPlan.Seconds", "0.1 to 3600", lift.Seconds);
            Require(lift.AtSeconds > free, "LiftPlan.AtSeconds", "after the needle drop and the lift before", lift.AtSeconds);
            free = lift.AtSeconds + lift.Seconds;
        }

        foreach (TrackPlan track in Tracks)
        {
            Require(track.Seconds is >= 4 and <= 3600, "TrackPlan.Seconds", "4 to 3600", track.Seconds);
            Require(track.FadeInSeconds >= 0 && track.FadeOutSeconds >= 0 && track.FadeInSeconds + track.FadeOutSeconds <= track.Seconds,
                "TrackPlan.FadeInSeconds + FadeOutSeconds", "within the track", track.FadeInSeconds + track.FadeOutSeconds);
            RequireDuration(track.GapAfterSeconds ?? 0, "TrackPlan.GapAfterSeconds");
        }
    }

    private static void RequireDuration(double seconds, string name) => Require(seconds is >= 0 and <= 3600, name, "0 to 3600", seconds);

    private static void Require(bool holds, string name, string expected, double found)
    {
        if (!holds)
        {
            throw new ArgumentException(
                string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{name}: expected {expected}, found {found}."));
        }
    }
}
