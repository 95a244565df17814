using Station.Evaluation.Dividing;
using Station.Evaluation.Signal;
using Xunit;

namespace Station.Audio.Tests.Evaluation;

/// <summary>The truth of a division: where music of known power lies 6 dB under noise of known power. All expectations are arithmetic on cells of 5 ms.</summary>
public sealed class MusicEdgesTests
{
    private const int Second = BandCells.PerSecond;

    // A window with one loud cell is heard: a lull between loud sounds reads shorter by two windows, less a cell each.
    private const int Windows = 2 * MusicEdges.WindowCells;
    private static readonly double[] Noise = [.. Enumerable.Repeat(1.0, 60 * Second)];

    [Fact]
    public void Music_that_sets_in_and_stops_at_once_begins_and_ends_there()
    {
        double[] music = Levels((10, 20, 30));

        Assert.Equal(new MusicEdges(10 * Second, 20 * Second, 0), MusicEdges.Find(music, Noise, 0, music.Length));
    }

    [Fact]
    public void A_fade_ends_where_it_is_6_dB_under_the_noise()
    {
        // From 24 dB above the noise, 3 dB a second: 6 dB under it after 10 s.
        double[] music = Levels((10, 20, 24));
        for (int i = 20 * Second; i < music.Length; i++)
        {
            music[i] = Math.Pow(10, (24 - (3.0 * (i - (20 * Second)) / Second)) / 10);
        }

        MusicEdges edges = Found(music);

        // The last 50 ms above it on average may hold cells a little below it: half a window either way.
        Assert.InRange(edges.EndCell, (30 * Second) - 6, (30 * Second) + 6);
    }

    [Fact]
    public void A_note_on_its_own_before_the_music_is_its_beginning_when_it_is_heard()
    {
        Assert.Equal(5 * Second, Found(Levels((5, 5.5, 7), (10, 20, 30))).StartCell);
        Assert.Equal(10 * Second, Found(Levels((5, 5.5, 5), (10, 20, 30))).StartCell);
    }

    [Fact]
    public void Sound_under_the_noise_belongs_to_music_within_a_second()
    {
        Assert.Equal(5 * Second, Found(Levels((5, 5.5, -3), (6.2, 20, 30))).StartCell);
        Assert.Equal((int)(21.4 * Second), Found(Levels((6, 20, 30), (20.9, 21.4, -3))).EndCell);
        Assert.Equal(20 * Second, Found(Levels((6, 20, 30), (22, 22.4, -3))).EndCell);
    }

    [Fact]
    public void The_longest_lull_is_told()
    {
        Assert.Equal(0, Found(Levels((5, 20, 30))).LongestLullCells);
        Assert.InRange(Found(Levels((5, 10, 30), (10.8, 12, 30), (15, 20, 30))).LongestLullCells, (3 * Second) - Windows, 3 * Second);
        Assert.InRange(Found(Levels((5, 10, 30), (10.8, 12, 30), (12.5, 20, 30))).LongestLullCells, (int)(0.8 * Second) - Windows, (int)(0.8 * Second));
    }

    [Fact]
    public void The_threshold_follows_the_noise()
    {
        double[] noise = [.. Noise];
        noise.AsSpan(15 * Second).Fill(1000);

        MusicEdges? edges = MusicEdges.Find(Levels((10, 20, 20)), noise, 0, noise.Length);

        Assert.InRange(edges?.EndCell ?? 0, (15 * Second) - MusicEdges.WindowCells, (15 * Second) + MusicEdges.WindowCells);
    }

    [Fact]
    public void Nothing_heard_is_no_music()
    {
        Assert.Null(MusicEdges.Find(new double[10 * Second], Noise, 0, 10 * Second));
        Assert.Null(MusicEdges.Find(Levels((10, 20, 3)), Noise, 0, Noise.Length));
    }

    // A sine of amplitude a has the mean square a²/2; second-order Butterworth edges at 200 Hz and 9 kHz pass 1 kHz to within 0.02 dB and
    // lower 50 Hz by 20·log10(√(1 + (200/50)⁴)) = 24.1 dB (computed).
    [Theory]
    [InlineData(1000, 0, 0.05)]
    [InlineData(50, -24.1, 0.3)]
    [InlineData(200, -3.01, 0.1)]
    public void Cells_hold_the_power_of_the_band(double hz, double gainDb, double toleranceDb)
    {
        var signal = new StereoSignal(2 * 44100, 44100);
        for (int i = 0; i < signal.Frames; i++)
        {
            signal.Left[i] = signal.Right[i] = (float)(0.5 * Math.Sin(2 * Math.PI * hz * i / 44100));
        }

        double[] cells = BandCells.Of(signal);

        Assert.Equal(2 * Second, cells.Length);
        Assert.Equal(10 * Math.Log10(0.125) + gainDb, 10 * Math.Log10(cells.Skip(Second).Average()), toleranceDb);
    }

    [Fact]
    public void A_tick_hardly_lifts_the_noise_it_lies_in()
    {
        double[] cells = [.. Enumerable.Repeat(1.0, 201)];
        cells[100] = 1000;

        // 30 dB in one cell of 201: 30/201 dB in the geometric mean, 7.8 dB in the plain one.
        Assert.Equal(30.0 / 201, 10 * Math.Log10(BandCells.Smoothed(cells, 100)[100]), 0.001);
    }

    private static MusicEdges Found(double[] music) => MusicEdges.Find(music, Noise, 0, music.Length) ?? throw new InvalidOperationException("Nothing was heard.");

    /// <summary>Music of so many decibels over the noise from and to some seconds, nothing elsewhere.</summary>
    private static double[] Levels(params (double From, double To, double Db)[] sounds)
    {
        double[] music = new double[Noise.Length];
        foreach ((double from, double to, double db) in sounds)
        {
            music.AsSpan((int)Math.Round(from * Second), (int)Math.Round((to - from) * Second)).Fill(Math.Pow(10, db / 10));
        }

        return music;
    }
}
