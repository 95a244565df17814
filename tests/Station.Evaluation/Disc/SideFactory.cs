using Station.Audio.Reading;
using Station.Evaluation.Faults;
using Station.Evaluation.Judging;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Makes sides: the same name and seed give the same side, bit for bit.</summary>
/// <param name="music">Where music comes from.</param>
/// <param name="models">Noise models allowed.</param>
/// <param name="salt">Keeps the streams of the two sets apart even where seeds meet.</param>
public sealed class SideFactory(IMusicSource music, IReadOnlyList<NoiseModel> models, string salt)
{
    /// <summary>Makes one side with a fault or a trap.</summary>
    /// <param name="row">What is done to it.</param>
    /// <param name="name">Class, row and number: names the random stream.</param>
    /// <param name="seed">Seed of the run.</param>
    /// <param name="shortestSeconds">Shortest side.</param>
    /// <param name="longestSeconds">Longest side.</param>
    public Side Make(FaultRow row, string name, ulong seed, double shortestSeconds, double longestSeconds)
    {
        for (int attempt = 0; ; attempt++)
        {
            try
            {
                return Attempt(row, $"{salt}/{name}/{attempt}", seed, shortestSeconds, longestSeconds);
            }
            catch (SideUnfitException) when (attempt < 100)
            {
                // Other music is drawn.
            }
        }
    }

    private Side Attempt(FaultRow row, string stream, ulong seed, double shortestSeconds, double longestSeconds)
    {
        var random = new SeededRandom(seed, stream);
        DiscRecipe recipe = RecipeDraw.Draw(random, music, models, random.Between(shortestSeconds, longestSeconds));
        row.Recipe?.Invoke(recipe, random);
        var side = new Side(recipe, random, music) { Truth = new SideTruth() };
        GrooveCutter.Cut(side);
        GrooveNoise.Make(recipe.Noise, music.GrooveTexture()).AddTo(side.Groove, recipe, random);
        row.Groove?.Invoke(side);
        StylusPath.Plain(side);
        row.Path?.Invoke(side);
        Turntable.Play(side);
        side.Groove = new StereoSignal(0, recipe.SampleRateHz);      // played: its memory is free
        row.Pickup?.Invoke(side);
        PhonoStage.Amplify(side);
        row.Line?.Invoke(side);
        if (!row.OwnGain)
        {
            SetLevel(side, recipe.PeakDbfs);
        }

        PhonoStage.AddResidue(side);
        row.Input?.Invoke(side);
        if (recipe.Words != WordFormat.Float32)
        {
            Converter.Convert(side.Capture, recipe.ConverterBits, recipe.Dither, random);
        }

        row.Digital?.Invoke(side);
        row.Settle?.Invoke(side);
        side.Sheet = SheetOf(recipe);
        return side;
    }

    /// <summary>Sets the recording level: the programme's peak at the given level, and every tick below −1.5 dBFS.</summary>
    public static void SetLevel(Side side, double peakDbfs)
    {
        ArgumentNullException.ThrowIfNull(side);
        double programme = side.MusicPeak();
        double all = side.Capture.Peak(0, side.Capture.Frames);
        side.Capture.Scale(Math.Min(Decibel.ToLinear(peakDbfs) / programme, Decibel.ToLinear(-1.5) / all));
    }

    private static SheetFacts SheetOf(DiscRecipe recipe) => recipe.HasSheet
        ? new SheetFacts { NominalRpm = recipe.NominalRpm, Mono = recipe.Mono, TrackSeconds = [.. recipe.Tracks.Select(t => Math.Round(t.Seconds))] }
        : new SheetFacts();
}
