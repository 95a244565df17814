using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Faults;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;
using Xunit;

namespace Station.Audio.Tests.Evaluation;

/// <summary>
/// What the evaluation plants is what it says: facts from arithmetic, on made-up music. Sources: formulae and turn lengths of the published
/// figures named beside each check.
/// </summary>
public sealed class PlantedFaultTests
{
    private static readonly SideFactory Factory = new(new StandInMusic(), [NoiseModel.A, NoiseModel.C], "test");

    [Theory]
    [InlineData(50.11, -60)]
    [InlineData(59.96, -54)]
    public void Hum_has_its_frequency_and_level(double hz, double levelDbfs)
    {
        Side side = Silence(60);
        PhonoStage.AddHum(side, hz, [levelDbfs, levelDbfs - 12], 0, side.Capture.Frames);

        Assert.Equal(levelDbfs, Decibel.FromLinear(Tone.Amplitude(side.Capture.Left, hz, side.RateHz)), 0.02);
        Assert.Equal(levelDbfs - 12, Decibel.FromLinear(Tone.Amplitude(side.Capture.Right, 2 * hz, side.RateHz)), 0.02);

        // A Hann window of 60 s falls to half at ±1/60 Hz and has its first zero at ±2/60 Hz (computed).
        Assert.Equal(levelDbfs - 6.02, Decibel.FromLinear(Tone.Amplitude(side.Capture.Left, hz + (1 / 60.0), side.RateHz)), 0.1);
        Assert.True(Decibel.FromLinear(Tone.Amplitude(side.Capture.Left, hz - (2 / 60.0), side.RateHz)) < levelDbfs - 40);
    }

    [Theory]
    [InlineData("20 ms", 0.020)]
    [InlineData("250 ms", 0.250)]
    public void A_dropout_takes_one_channel_away_for_its_length(string row, double seconds)
    {
        Side side = Make(WiringFaults.Dropout, row);

        (double from, double to) = Assert.Single(side.Truth.Spans);
        Assert.Equal(seconds, to - from, 1.01 / side.RateHz);
        int lost = side.Truth.Channel ?? throw new InvalidOperationException("A dropout has a channel.");
        int start = (int)Math.Round(from * side.RateHz);
        int end = (int)Math.Round(to * side.RateHz);
        int edge = side.RateHz / 1000;
        double inside = side.Capture.Rms(lost, start + edge, end - edge);
        Assert.True(inside < Decibel.ToLinear(-35) * side.Capture.Rms(lost, start - (4 * edge), start + (end - start) + (30 * edge)), $"{Decibel.FromLinear(inside)} dBFS is left.");
        Assert.True(side.Capture.Rms(1 - lost, start, end) > 10 * inside);
    }

    // Overdriven sine: share at the ceiling and run length, level-vectors of the published clipping arithmetic (computed):
    // (2/π)·acos(10^(−g/20)) of the samples, fs/(π·f)·acos(10^(−g/20)) samples a run. 997 Hz exercises all phases (AES17).
    [Theory]
    [InlineData(1, 0.300, 7.19)]
    [InlineData(3, 0.499, 12.0)]
    [InlineData(6, 0.666, 16.0)]
    public void The_converter_clips_as_long_as_arithmetic_says(double overDb, double share, double run)
    {
        var signal = new StereoSignal(48000, 48000);
        for (int i = 0; i < signal.Frames; i++)
        {
            signal.Left[i] = (float)(Decibel.ToLinear(overDb) * Math.Sin(2 * Math.PI * 997 * i / 48000));
        }

        Converter.Convert(signal, 16, false, new SeededRandom(1, "clip"));

        float ceiling = Converter.Ceiling(16);
        List<(int From, int To)> runs = Runs.Find(signal.Left, 1, x => Math.Abs(x) >= ceiling);
        Assert.Equal(share, runs.Sum(r => r.To - r.From) / 48000.0, 0.003);
        Assert.Equal(run, runs.Average(r => r.To - r.From), 0.1);
        Assert.Equal(32767f / 32768f, signal.Left.Max());
    }

    [Fact]
    public void A_clipped_side_names_each_run_at_full_scale()
    {
        Side side = Make(ClippingFaults.Converter, "3 dB over");

        float ceiling = Converter.Ceiling(side.Recipe.ConverterBits);
        int runs = Runs.Find(side.Capture.Left, 3, x => x >= ceiling || x <= -ceiling).Count + Runs.Find(side.Capture.Right, 3, x => x >= ceiling || x <= -ceiling).Count;
        Assert.Equal(runs, side.Truth.Spans.Count);
        Assert.All(side.Truth.Spans.Take(200), s => Assert.True(side.Capture.Peak((int)Math.Round(s.FromSeconds * side.RateHz), (int)Math.Round(s.ToSeconds * side.RateHz)) >= ceiling));
    }

    [Fact]
    public void Sixteen_bits_in_a_24_bit_word_top_out_at_0x7FFF00()
    {
        Side side = Make(ClippingFaults.Converter, "16 bits in a 24-bit word, 2 dB over");

        int largest = Converter.Blocks(side.Capture, WordFormat.Int24).Max(LargestCode);
        Assert.Equal(0x7FFF00, largest);
    }

    [Theory]
    [InlineData("2 %, with a sheet")]
    [InlineData("5 %, with a sheet")]
    public void The_closed_groove_comes_round_at_the_planted_speed(string row)
    {
        Side side = Make(GrooveFaults.Speed, row);

        // 33⅓ rev/min is 1.800000 s, 45 is 1.333333 s a turn (IEC 60098 / ID3v2.4 TMED; computed), divided by the speed factor.
        double turnSeconds = (side.Recipe.NominalRpm < 40 ? 1.8 : 4.0 / 3) / (1 + (side.Recipe.SpeedErrorPercent / 100));
        double turn = turnSeconds * side.RateHz;
        int from = side.LiftFrame - (int)(4.2 * turn);
        int window = (int)(2 * turn);
        int best = Enumerable.Range((int)(turn * 0.993), (int)(turn * 0.014)).MaxBy(lag => Correlation(side.Capture.Left, from, from + lag, window));
        Assert.Equal(turn, best, 2.0);
    }

    [Fact]
    public void A_stuck_groove_repeats_by_the_turn_and_only_there()
    {
        Side side = Make(GrooveFaults.Repeats, "one turn 6 times over, then on");

        (double from, double to) = Assert.Single(side.Truth.Spans);
        double turn = side.Recipe.TurnFrames;
        Assert.Equal(7 * turn, (to - from) * side.RateHz, turn * 0.01);
        int start = (int)(from * side.RateHz);
        int half = (int)(turn / 2);
        Assert.All(Enumerable.Range(0, 5), i => Assert.True(Best(start + (int)((i + 0.2) * turn)) > 0.9));
        Assert.True(Best(start - (int)(1.5 * turn)) < 0.6);

        // The stylus climbs back within a quarter of a millisecond.
        double Best(int frame) => Enumerable.Range(-side.RateHz / 1000, side.RateHz / 500).Max(shift => Correlation(side.Capture.Left, frame, frame + (int)turn + shift, half));
    }

    [Fact]
    public void A_skip_leaves_out_whole_turns()
    {
        Side side = Make(GrooveFaults.Skips, "3 turns, knock of −22 dBFS");

        PathPiece before = side.Path[0];
        PathPiece after = side.Path[1];
        Assert.Equal(3 * side.Recipe.TurnFrames, after.GrooveFrame - (before.GrooveFrame + before.Frames), side.RateHz / 1000.0);
        Assert.Equal(side.Recipe.PreRollSeconds + ((double)before.Frames / side.RateHz), side.Truth.Spans[0].FromSeconds, 0.001);
    }

    [Fact]
    public void Lost_samples_are_zeros_repeats_or_gone()
    {
        Side zeros = Make(ChainFaults.Lost, "5 ms of zeros, once");
        (int from, int to) = Frames(zeros);
        Assert.Equal(zeros.RateHz / 200, to - from, 1.0);
        Assert.Equal(0, zeros.Capture.Peak(from, to));

        Side twice = Make(ChainFaults.Lost, "a buffer of 256 to 2048 frames twice over, once");
        (from, to) = Frames(twice);
        Assert.Equal(twice.Capture.Left[(from - (to - from))..from], twice.Capture.Left[from..to]);

        Side missing = Make(ChainFaults.Lost, "64 to 2048 frames missing, 8 times");
        Assert.Equal(8, missing.Truth.Spans.Count);
        Assert.Equal(missing.Truth.Spans.Select(s => s.FromSeconds).Order(), missing.Truth.Spans.Select(s => s.FromSeconds));
        int whole = missing.LandingFrame + missing.Path.Sum(p => p.Frames) + (int)(missing.Recipe.PostRollSeconds * missing.RateHz);
        Assert.InRange(whole - missing.Capture.Frames, 8 * 64, 8 * 2048);
    }

    // Published fine-groove curve 3180/318/75 µs (computed from the formula of IEC 60098; second-hand one-decimal table agrees).
    [Theory]
    [InlineData(20, 19.2741)]
    [InlineData(100, 13.0885)]
    [InlineData(1000, 0)]
    [InlineData(5000, -8.2096)]
    [InlineData(10000, -13.7343)]
    public void Replay_curve_twice_adds_the_published_curve(double hz, double levelDb)
    {
        Assert.Equal(levelDb, GainDb(ReplayCurve.Replay(96000), hz, 96000), 0.5);
        Assert.Equal(-levelDb, GainDb(ReplayCurve.Missing(96000), hz, 96000), 0.5);
    }

    [Fact]
    public void Groove_noise_has_the_level_asked_for()
    {
        Side side = Make(NoiseFaults.Surface, "−40 dBFS A-weighted");

        int from = side.LandingFrame + (side.RateHz * 6 / 10);
        int to = side.MusicSpans[0].From - 1;
        double level = new AWeighting(side.RateHz).LevelDba(side.Capture.Left.AsSpan(from, to - from));

        // Crosstalk, balance and the music's true peak behind the chain move it by a decibel or two.
        Assert.Equal(-40, level, 3.0);
    }

    [Fact]
    public void The_same_name_and_seed_give_the_same_side()
    {
        Side first = Make(ClippingFaults.Saturated, "one-sided, 3 dB drive");
        Side second = Make(ClippingFaults.Saturated, "one-sided, 3 dB drive");
        Side other = Factory.Make(Row(ClippingFaults.Saturated, "one-sided, 3 dB drive"), "test", 8, 60, 61);

        Assert.Equal(first.Capture.Left, second.Capture.Left);
        Assert.NotEqual(first.Capture.Left, other.Capture.Left);
    }

    [Fact]
    public void One_sided_saturation_lowers_one_polarity_by_its_drive()
    {
        Side side = Make(ClippingFaults.Saturated, "one-sided, 6 dB drive");

        // Above the level of one sample in a thousand, the upper half is at least 6 dB lower than the lower half would let it be; music is only roughly symmetrical.
        float[] music = side.Capture.Left[side.MusicSpans[0].From..side.MusicSpans[0].To];
        Assert.True(Decibel.FromLinear(-music.Min() / music.Max()) > 3, $"{music.Min()} to {music.Max()}");
    }

    private static Side Silence(double seconds)
    {
        var side = new Side(new DiscRecipe { SampleRateHz = 48000 }, new SeededRandom(1, "silence"), new StandInMusic());
        side.Capture = new StereoSignal((int)(seconds * 48000), 48000);
        return side;
    }

    private static Side Make(FaultClass fault, string row) => Factory.Make(Row(fault, row), "test", 7, 60, 61);

    private static FaultRow Row(FaultClass fault, string row) => fault.Rows.Single(r => string.Equals(r.Name, row, StringComparison.Ordinal));

    private static (int From, int To) Frames(Side side)
    {
        (double from, double to) = Assert.Single(side.Truth.Spans);
        return ((int)Math.Round(from * side.RateHz), (int)Math.Round(to * side.RateHz));
    }

    private static double Correlation(float[] x, int first, int second, int frames)
    {
        double cross = 0;
        double a = 0;
        double b = 0;
        for (int i = 0; i < frames; i += 3)
        {
            cross += (double)x[first + i] * x[second + i];
            a += (double)x[first + i] * x[first + i];
            b += (double)x[second + i] * x[second + i];
        }

        return cross / Math.Sqrt((a * b) + 1e-30);
    }

    private static double GainDb(Section[] sections, double hz, double rateHz)
    {
        float[] x = new float[(int)rateHz * 2];
        for (int i = 0; i < x.Length; i++)
        {
            x[i] = (float)Math.Sin(2 * Math.PI * hz * i / rateHz);
        }

        foreach (Section section in sections)
        {
            section.Run(x);
        }

        return Decibel.FromLinear(Tone.Amplitude(x.AsSpan(x.Length / 2), hz, rateHz));
    }

    private static int LargestCode(Station.Evaluation.Judging.EvaluationBlock block)
    {
        ReadOnlySpan<byte> words = block.Words.Span;
        int largest = int.MinValue;
        for (int i = 0; i < words.Length; i += 3)
        {
            largest = Math.Max(largest, words[i] | (words[i + 1] << 8) | ((sbyte)words[i + 2] << 16));
        }

        return largest;
    }
}
