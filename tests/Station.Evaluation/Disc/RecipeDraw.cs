using Station.Audio.Reading;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>Draws an ordinary side: a good disc or a used one, a good chain, a sensible level.</summary>
public static class RecipeDraw
{
    /// <summary>Draws.</summary>
    /// <param name="random">Its randomness.</param>
    /// <param name="music">To choose from.</param>
    /// <param name="models">Noise models allowed.</param>
    /// <param name="sideSeconds">About how long the side is.</param>
    public static DiscRecipe Draw(SeededRandom random, IMusicSource music, IReadOnlyList<NoiseModel> models, double sideSeconds)
    {
        ArgumentNullException.ThrowIfNull(random);
        ArgumentNullException.ThrowIfNull(music);
        double speedDraw = random.NextUnit();
        int rateDraw = random.Whole(0, 99);
        bool sixteen = random.Chance(0.35);
        bool worn = random.Chance(0.3);
        bool mains60 = random.Chance(0.35);
        var recipe = new DiscRecipe
        {
            SampleRateHz = rateDraw < 55 ? 44100 : rateDraw < 95 ? 48000 : 96000,
            Words = sixteen ? WordFormat.Int16 : WordFormat.Int24,
            ConverterBits = sixteen ? 16 : 24,
            Dither = sixteen && random.Chance(0.6),
            NominalRpm = speedDraw < 0.78 ? 100.0 / 3 : 45,
            SpeedErrorPercent = random.Between(-0.3, 0.3),
            HasSheet = random.Chance(0.75),
            Mono = random.Chance(0.12),
            PreRollSeconds = random.Between(0.6, 4),
            LeadInSeconds = random.Between(1.8, 6),
            SpiralSeconds = random.Between(1.8, 4.5),
            RunOutTurns = random.Whole(5, 16),
            PostRollSeconds = random.Between(0.8, 5),
            PeakDbfs = random.Between(-12, -3),
            SurfaceDba = worn ? random.Between(-60, -54) : random.Between(-70, -60),
            Noise = random.Pick(models),
            TicksPerMinute = worn ? random.Between(8, 40) : random.Between(1, 12),
            TickCeilingDbfs = random.Between(-26, -14),
            DustPerSecond = worn ? random.Between(1, 6) : random.Between(0.2, 3),
            RumbleDbfs = random.Between(-68, -54),
            ArmHz = random.Between(8, 14),
            ArmDbfs = random.Between(-62, -48),
            MainsHz = (mains60 ? 60 : 50) + (0.05 * random.Between(-1, 1)),
            ResidualHumDbfs = random.Between(-100, -80),
            ElectronicsDbfs = random.Between(-92, -78),
            EccentricityPercent = random.Between(0.02, 0.2),
            SeparationDb = random.Between(20, 30),
            BalanceDb = random.Between(-1, 1),
            BandLimitHz = random.Between(13500, 19000),
            BassMonoHz = random.Between(80, 220),
            TrebleErrorDb = random.Between(-1, 0.7),
            BassErrorDb = random.Between(-0.8, 0.8),
            CouplingHz = random.Between(1, 6),
            Amendment = random.Chance(0.3),
            DropDbfs = random.Between(-24, -6),
            LiftDbfs = random.Between(-38, -16),
            RunOutThumpDbfs = random.Between(-44, -24),
        };

        // Noise is bounded by what the peak leaves: a quiet recording level lowers the disc's noise with the music.
        recipe.SurfaceDba = Math.Min(recipe.SurfaceDba, recipe.PeakDbfs - 47);
        AddTracks(recipe, random, music, sideSeconds);
        return recipe;
    }

    /// <summary>Chooses excerpts for a side of about the given length: 2 to 4 tracks with gaps.</summary>
    public static void AddTracks(DiscRecipe recipe, SeededRandom random, IMusicSource music, double sideSeconds)
    {
        ArgumentNullException.ThrowIfNull(recipe);
        ArgumentNullException.ThrowIfNull(random);
        ArgumentNullException.ThrowIfNull(music);
        int count = sideSeconds < 150 ? 2 : random.Whole(2, sideSeconds > 240 ? 5 : 4);
        double each = (sideSeconds - 20) / count;
        string package = random.Pick([.. music.Tracks.Select(t => t.Package).Distinct(StringComparer.Ordinal)]);
        Track[] shelf = [.. music.Tracks.Where(t => string.Equals(t.Package, package, StringComparison.Ordinal))];
        for (int i = 0; i < count; i++)
        {
            Track track = random.Pick(shelf);
            double seconds = Math.Min(each * random.Between(0.75, 1.25), track.Seconds - 2);
            recipe.Tracks.Add(new TrackPlan
            {
                Track = track,
                Seconds = seconds,
                StartSeconds = Start(track, seconds, random),
                FadeInSeconds = random.Chance(0.5) ? 0.006 : random.Between(0.02, 0.4),
                FadeOutSeconds = random.Chance(0.25) ? 0.15 : random.Between(0.5, 4),
                LevelDb = random.Between(-2.5, 2.5),
                GapSeconds = i == count - 1 ? 0 : random.Between(1.5, 4.5),
            });
        }
    }

    /// <summary>A start whose excerpt is not one of the track's near-silent stretches.</summary>
    private static double Start(Track track, double seconds, SeededRandom random)
    {
        double mean = Math.Sqrt(track.SecondRms.Average(r => (double)r * r));
        for (int attempt = 0; attempt < 50; attempt++)
        {
            int start = (int)random.Between(0, Math.Max(0, track.Seconds - seconds - 1));
            float[] part = [.. track.SecondRms.Skip(start).Take((int)seconds)];
            if (part.Length > 0 && Math.Sqrt(part.Average(r => (double)r * r)) > 0.4 * mean)
            {
                return start;
            }
        }

        return 0;
    }
}
