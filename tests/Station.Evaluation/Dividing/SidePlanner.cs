using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>Draws discs and excerpts for sides to be divided, from the recipes and the music of the evaluation's sets.</summary>
public sealed class SidePlanner
{
    /// <summary>What a bar of music has over its own peak, dB: a guess good enough to keep lulls away from the noise.</summary>
    private const double PeakOverRmsDb = 16;

    private readonly IMusicSource _music;
    private readonly Track[] _shelf;

    /// <summary>Draws a disc; its music comes from one package.</summary>
    public SidePlanner(SeededRandom random, IMusicSource music, IReadOnlyList<NoiseModel> models)
    {
        ArgumentNullException.ThrowIfNull(random);
        ArgumentNullException.ThrowIfNull(music);
        Random = random;
        _music = music;
        Recipe = RecipeDraw.Draw(random, music, models, 180);
        Recipe.Tracks.Clear();
        int rate = random.Whole(0, 99);
        Recipe.SampleRateHz = rate < 85 ? 44100 : rate < 97 ? 48000 : 96000;
        bool sixteen = random.Chance(0.6);
        Recipe.Words = sixteen ? WordFormat.Int16 : WordFormat.Int24;
        Recipe.ConverterBits = sixteen ? 16 : 24;
        Recipe.Dither = sixteen && random.Chance(0.6);
        Noise(-70, -55);
        string package = random.Pick([.. music.Tracks.Select(t => t.Package).Distinct(StringComparer.Ordinal)]);
        _shelf = [.. music.Tracks.Where(t => string.Equals(t.Package, package, StringComparison.Ordinal))];
    }

    /// <summary>Randomness of this side.</summary>
    public SeededRandom Random { get; }

    /// <summary>Disc, turntable and chain.</summary>
    public DiscRecipe Recipe { get; }

    /// <summary>Draws the groove noise, dBFS A-weighted; never within 25 dB of the music's peak.</summary>
    public void Noise(double lowDba, double highDba) => Recipe.SurfaceDba = Math.Min(Random.Between(lowDba, highDba), Recipe.PeakDbfs - 25);

    /// <summary>An ordinary side: so many tracks, gaps between them.</summary>
    /// <param name="count">Tracks.</param>
    /// <param name="seconds">About how long all of them play.</param>
    /// <param name="shortestGap">Shortest gap, seconds.</param>
    /// <param name="longestGap">Longest gap, seconds.</param>
    /// <param name="shape">Changes each track, told its number; null for none.</param>
    public IReadOnlyList<DividedPiece> Pieces(int count, double seconds, double shortestGap, double longestGap, Func<DividedPiece, int, DividedPiece>? shape = null)
    {
        var pieces = new List<DividedPiece>();
        var used = new HashSet<string>(StringComparer.Ordinal);
        for (int i = 0; i < count; i++)
        {
            DividedPiece piece = Piece(seconds / count * Random.Between(0.65, 1.35), used) with { GapSeconds = i == count - 1 ? 0 : Random.Between(shortestGap, longestGap) };
            pieces.Add(shape?.Invoke(piece, i) ?? piece);
        }

        return pieces;
    }

    /// <summary>Draws an excerpt of about some length: often from the music's own beginning or to its own end, else from its middle.</summary>
    private DividedPiece Piece(double seconds, HashSet<string> used)
    {
        Track[] fresh = [.. _shelf.Where(t => !used.Contains(t.Path))];
        for (int attempt = 0; attempt < 200; attempt++)
        {
            // Short pieces come twice on a side rather than not at all.
            Track track = Random.Pick(fresh.Length > 0 && attempt < 100 ? fresh : _shelf);
            double length = Math.Min(seconds, track.Seconds - 1);
            double room = Math.Max(0, track.Seconds - length - 1);
            double draw = Random.NextUnit();
            bool begins = draw < 0.35;
            bool ends = draw is >= 0.35 and < 0.6;
            double start = begins ? 0 : ends ? room + 1 : Random.Between(Math.Min(2, room), room);
            if (!Steady(track, start, length, begins, ends))
            {
                continue;
            }

            used.Add(track.Path);
            return new DividedPiece
            {
                Track = track,
                StartSeconds = start,
                Seconds = length,
                FadeInSeconds = begins || Random.Chance(0.6) ? 0.006 : Random.Between(0.02, 0.4),
                FadeOutSeconds = ends || Random.Chance(0.3) ? 0.15 : Random.Between(0.5, 4),
                FadeOutPower = Random.Between(1.2, 2.6),
                LevelDb = Random.Between(-4, 3),
            };
        }

        throw new SideUnfitException("No excerpt is steady enough.");
    }

    /// <summary>No second of it, save the outermost three, is so quiet that it would sink into the noise.</summary>
    private bool Steady(Track track, double start, double length, bool begins, bool ends)
    {
        int from = (int)start;
        float[] part = [.. track.SecondRms.Skip(from).Take((int)length)];
        if (part.Length < 8)
        {
            return false;
        }

        double mean = Math.Sqrt(part.Average(r => (double)r * r));
        double least = mean * Decibel.ToLinear(Recipe.SurfaceDba - 2 - (Recipe.PeakDbfs - PeakOverRmsDb));
        return part.Skip(begins ? 3 : 0).SkipLast(ends ? 3 : 0).All(r => r > least) && mean > 1e-3;
    }
}
