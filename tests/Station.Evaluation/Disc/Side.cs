using Station.Evaluation.Faults;
using Station.Evaluation.Judging;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>One side in the making: what faults reach into, stage by stage.</summary>
public sealed class Side
{
    /// <summary>Starts a side.</summary>
    public Side(DiscRecipe recipe, SeededRandom random, IMusicSource music)
    {
        ArgumentNullException.ThrowIfNull(recipe);
        Recipe = recipe;
        Random = random;
        Music = music;
        Groove = new StereoSignal(0, recipe.SampleRateHz);
        Capture = Groove;
        Analogue = Groove;
        Sheet = new SheetFacts();
    }

    /// <summary>Disc, turntable and chain.</summary>
    public DiscRecipe Recipe { get; }

    /// <summary>Randomness of this side.</summary>
    public SeededRandom Random { get; }

    /// <summary>Where its music comes from.</summary>
    public IMusicSource Music { get; }

    /// <summary>What is cut, from the landing point on; the programme's peak is 1.</summary>
    public StereoSignal Groove { get; set; }

    /// <summary>Start and end of each track in the groove, frames.</summary>
    public List<(int From, int To)> GrooveTracks { get; } = [];

    /// <summary>How the stylus goes through the groove.</summary>
    public List<PathPiece> Path { get; } = [];

    /// <summary>What the capture holds: first in groove units, behind the gain in full scales.</summary>
    public StereoSignal Capture { get; set; }

    /// <summary>A copy of the capture before clipping, where a fault needs one.</summary>
    public StereoSignal Analogue { get; set; }

    /// <summary>Frame at which the stylus lands.</summary>
    public int LandingFrame { get; set; }

    /// <summary>Frame at which it is lifted.</summary>
    public int LiftFrame { get; set; }

    /// <summary>Start and end of each stretch of music in the capture, frames.</summary>
    public List<(int From, int To)> MusicSpans { get; } = [];

    /// <summary>What the sheet says.</summary>
    public SheetFacts Sheet { get; set; }

    /// <summary>What is wrong with it and where.</summary>
    public SideTruth Truth { get; set; } = new();

    /// <summary>Hz.</summary>
    public int RateHz => Recipe.SampleRateHz;

    /// <summary>Seconds of a frame.</summary>
    public double Seconds(int frame) => (double)frame / RateHz;

    /// <summary>
    /// A frame inside music whose surroundings are loud enough in both channels.
    /// </summary>
    /// <param name="halfSeconds">Half the stretch looked at.</param>
    /// <param name="least">Least RMS of each channel there, as a share of the programme's peak.</param>
    /// <param name="from">Earliest share of the music, 0 to 1.</param>
    /// <param name="to">Latest share.</param>
    /// <exception cref="SideUnfitException">No such place in 400 tries: another side is made instead.</exception>
    public int LoudFrame(double halfSeconds, double least, double from = 0.05, double to = 0.95)
    {
        double peak = MusicPeak();
        int half = Math.Max(1, (int)(halfSeconds * RateHz));
        for (int attempt = 0; attempt < 400; attempt++)
        {
            (int start, int end) = Random.Pick(MusicSpans);
            int frame = start + (int)(Random.NextUnit() * (end - start));
            double share = (double)(frame - MusicSpans[0].From) / (MusicSpans[^1].To - MusicSpans[0].From);
            if (share >= from && share <= to && frame - half > start && frame + half < end
                && Math.Min(Capture.Rms(0, frame - half, frame + half), Capture.Rms(1, frame - half, frame + half)) >= least * peak)
            {
                return frame;
            }
        }

        throw new SideUnfitException("No stretch of music is loud enough.");
    }

    /// <summary>Largest magnitude inside the music.</summary>
    public double MusicPeak() => MusicSpans.Max(s => Capture.Peak(s.From, s.To));

    /// <summary>Cuts the capture to a stretch of itself.</summary>
    public void Trim(int from, int to)
    {
        var kept = new StereoSignal(0, RateHz);
        kept.Replace(Capture.Left[from..to], Capture.Right[from..to]);
        Capture = kept;
        LandingFrame = Math.Max(0, LandingFrame - from);
        LiftFrame = Math.Min(to - from, LiftFrame - from);
        (int From, int To)[] spans = [.. MusicSpans];
        MusicSpans.Clear();
        foreach ((int start, int end) in spans)
        {
            if (Math.Min(end, to) > Math.Max(start, from))
            {
                MusicSpans.Add((Math.Max(start, from) - from, Math.Min(end, to) - from));
            }
        }
    }

    /// <summary>Adds the landing or lifting of a stylus, or a jump.</summary>
    public void Thump(int frame, double peak, double seconds, bool withClick)
    {
        double hz = Random.Between(11, 38);
        double decay = seconds / 4;
        double slant = Random.Between(-0.9, 0.9);
        double clickDecay = Random.Between(0.0004, 0.003);
        double clickHz = Random.Between(300, 2500);
        double phase = Random.Between(0, 1);
        int length = Math.Min((int)(seconds * RateHz), Capture.Frames - frame);
        for (int i = 0; i < length; i++)
        {
            double t = (double)i / RateHz;
            double value = 0.8 * Math.Exp(-t / decay) * Math.Sin((2 * Math.PI * hz * t) + phase) * Math.Min(1, t / 0.002);
            if (withClick)
            {
                value += 0.5 * Math.Exp(-t / clickDecay) * Math.Cos(2 * Math.PI * clickHz * t);
            }

            Capture.Left[frame + i] += (float)(peak * value);
            Capture.Right[frame + i] += (float)(peak * value * slant);
        }
    }
}
