using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Finds instants at which frames may be missing.</summary>
/// <remarks>
/// <para>
/// Where a driver drops a buffer, two frames become neighbours that were not. What went through stylus, phono stage and the converter's own filter has next to nothing at the
/// top of the band; a joint reaches up to half the rate. So the wave is high-passed at 0.4 of the rate, and its peaks over the local level are looked at: first for their
/// shape (the filter's own and nothing behind it), then by <see cref="JointAnalysis"/>.
/// </para>
/// <para>Work is done in blocks of 64 frames counted from the first frame, behind the newest step by what the analysis looks ahead.</para>
/// </remarks>
internal sealed class JointFinder(int sampleRateHz)
{
    /// <summary>Least height of a peak behind the high-pass over the local level, both channels together (noise alone reaches 6 in an hour: computed for Gaussian noise).</summary>
    public const double LeastPeak = 9;

    private const int Block = 64;
    private const int Taps = 21;
    private const int HalfTaps = Taps / 2;
    private const double CornerOfRate = 0.4;
    private const int Around = 4;                           // blocks on either side that tell the local level
    private const int Ring = 16;
    private const int ShapeFrames = 36;
    private const double ShapeLimit = 5;
    private const double NoLevel = 1e-7;                    // −140 dBFS: digital silence and nothing else

    // A crackling disc has ticks by the thousand that look alike at first. No more of them have a first look than so many a second, no more a close one; each may have as many at
    // once as quiet moments have saved up (own choices, by what they cost: a first look takes 20 µs, a close one 1 to 3 ms).
    private const int FirstLooksPerSecond = 12;
    private const int CloseLooksPerSecond = 2;
    private const int SavedSeconds = 50;

    // Windowed sinc (Hamming), unity gain at half the rate; the upper half, mirrored.
    private static readonly float[] HighPass = Design();

    private readonly JointAnalysis _analysis = new(sampleRateHz);
    private readonly Allowance _firstLooks = new(sampleRateHz, FirstLooksPerSecond, SavedSeconds);
    private readonly Allowance _closeLooks = new(sampleRateHz, CloseLooksPerSecond, SavedSeconds);
    private readonly List<Joint> _joints = [];
    private readonly Level[] _levels = new Level[Ring];
    private readonly float[] _filtered = new float[2 * ((2 * ShapeFrames) + 1)];
    private readonly float[] _block = new float[2 * Block];
    private long _blocks;

    /// <summary>Frames behind the newest step that must be kept.</summary>
    public int HistoryFrames => (2 * _analysis.Reach) + (((2 * Around) + 3) * Block);

    public IReadOnlyList<Joint> Joints => _joints;

    /// <summary>Looks at what has become complete.</summary>
    public void Add(FrameHistory history)
    {
        while (((_blocks + 1) * Block) + _analysis.Reach <= history.EndFrame)
        {
            Measure(history);
            _blocks++;
            long candidate = _blocks - 1 - Around;
            if ((candidate - Around) * Block >= _analysis.Reach)
            {
                Consider(history, candidate);
            }
        }
    }

    private static float[] Design()
    {
        double[] taps = new double[HalfTaps + 1];
        double gain = 0;
        for (int k = 0; k <= HalfTaps; k++)
        {
            double ideal = k == 0 ? 1 - (2 * CornerOfRate) : -Math.Sin(2 * Math.PI * CornerOfRate * k) / (Math.PI * k);
            taps[k] = ideal * (0.54 + (0.46 * Math.Cos(Math.PI * k / HalfTaps)));
            gain += (k == 0 ? 1 : 2) * taps[k] * ((k & 1) == 0 ? 1 : -1);
        }

        return [.. taps.Select(tap => (float)(tap / gain))];
    }

    private void Measure(FrameHistory history)
    {
        int from = (int)((_blocks * Block) - history.FirstFrame);
        Level level = default;
        if (from >= HalfTaps)
        {
            Filter(history.Samples, from, _block);
            Vector256<float> sum = Vector256<float>.Zero;
            Vector256<float> most = Vector256<float>.Zero;
            foreach (Vector256<float> frames in MemoryMarshal.Cast<float, Vector256<float>>(_block))
            {
                Vector256<float> magnitude = Vector256.Abs(frames);
                sum += magnitude;
                most = Vector256.Max(most, magnitude);
            }

            Vector128<float> half = sum.GetLower() + sum.GetUpper();
            Vector128<float> peak = Vector128.Max(most.GetLower(), most.GetUpper());
            level = new Level((half[0] + half[2]) / Block, (half[1] + half[3]) / Block, Math.Max(peak[0], peak[2]), Math.Max(peak[1], peak[3]));
        }

        _levels[_blocks % Ring] = level;
    }

    private static void Filter(ReadOnlySpan<float> samples, int fromFrame, Span<float> target)
    {
        // Loads and taps spelled out: this is where the meter's time goes.
        ReadOnlySpan<float> source = samples.Slice(2 * (fromFrame - HalfTaps), target.Length + (4 * HalfTaps));
        ref float x = ref MemoryMarshal.GetReference(source);
        ref float y0 = ref MemoryMarshal.GetReference(target);
        Vector256<float> t0 = Vector256.Create(HighPass[0]), t1 = Vector256.Create(HighPass[1]), t2 = Vector256.Create(HighPass[2]), t3 = Vector256.Create(HighPass[3]);
        Vector256<float> t4 = Vector256.Create(HighPass[4]), t5 = Vector256.Create(HighPass[5]), t6 = Vector256.Create(HighPass[6]), t7 = Vector256.Create(HighPass[7]);
        Vector256<float> t8 = Vector256.Create(HighPass[8]), t9 = Vector256.Create(HighPass[9]), t10 = Vector256.Create(HighPass[10]);
        int i = 0;
        for (; i + Vector256<float>.Count <= target.Length; i += Vector256<float>.Count)
        {
            nuint at = (nuint)i;
            Vector256<float> sum = (t0 * Vector256.LoadUnsafe(ref x, at + 20)) + (t1 * (Vector256.LoadUnsafe(ref x, at + 18) + Vector256.LoadUnsafe(ref x, at + 22)));
            sum += (t2 * (Vector256.LoadUnsafe(ref x, at + 16) + Vector256.LoadUnsafe(ref x, at + 24)))
                + (t3 * (Vector256.LoadUnsafe(ref x, at + 14) + Vector256.LoadUnsafe(ref x, at + 26)));
            sum += (t4 * (Vector256.LoadUnsafe(ref x, at + 12) + Vector256.LoadUnsafe(ref x, at + 28)))
                + (t5 * (Vector256.LoadUnsafe(ref x, at + 10) + Vector256.LoadUnsafe(ref x, at + 30)));
            sum += (t6 * (Vector256.LoadUnsafe(ref x, at + 8) + Vector256.LoadUnsafe(ref x, at + 32)))
                + (t7 * (Vector256.LoadUnsafe(ref x, at + 6) + Vector256.LoadUnsafe(ref x, at + 34)));
            sum += (t8 * (Vector256.LoadUnsafe(ref x, at + 4) + Vector256.LoadUnsafe(ref x, at + 36)))
                + (t9 * (Vector256.LoadUnsafe(ref x, at + 2) + Vector256.LoadUnsafe(ref x, at + 38)));
            sum += t10 * (Vector256.LoadUnsafe(ref x, at) + Vector256.LoadUnsafe(ref x, at + 40));
            sum.StoreUnsafe(ref y0, at);
        }

        for (; i < target.Length; i++)
        {
            int centre = (2 * fromFrame) + i;
            float y = HighPass[0] * samples[centre];
            for (int k = 1; k <= HalfTaps; k++)
            {
                y += HighPass[k] * (samples[centre - (2 * k)] + samples[centre + (2 * k)]);
            }

            target[i] = y;
        }
    }

    private void Consider(FrameHistory history, long block)
    {
        Level here = _levels[block % Ring];

        // A mean magnitude is 0.8 of the RMS of Gaussian noise.
        Vector128<float> usual = 1.25f * RankSelection.ThirdOfSix(
            [Means(block - Around), Means(block - Around + 1), Means(block - Around + 2), Means(block + Around - 2), Means(block + Around - 1), Means(block + Around)]);
        float leftLevel = usual[0];
        float rightLevel = usual[1];
        if (leftLevel < NoLevel || rightLevel < NoLevel)
        {
            return;
        }

        float height = Height(here, leftLevel, rightLevel);
        if (height < LeastPeak * LeastPeak
            || height < Height(_levels[(block - 1) % Ring], leftLevel, rightLevel)
            || height <= Height(_levels[(block + 1) % Ring], leftLevel, rightLevel))
        {
            return;
        }

        int from = (int)((block * Block) - history.FirstFrame);
        Filter(history.Samples, from, _block);
        int best = 0;
        float most = 0;
        for (int i = 0; i < Block; i++)
        {
            float l = _block[2 * i] / leftLevel;
            float r = _block[(2 * i) + 1] / rightLevel;
            if ((l * l) + (r * r) > most)
            {
                most = (l * l) + (r * r);
                best = i;
            }
        }

        long now = block * Block;
        if (HasShape(history, from + best, leftLevel, rightLevel)
            && _joints.Count < LossMeter.MaxPlaces
            && _firstLooks.MaySpend(now)
            && _analysis.MayPart(history, from + best)
            && _closeLooks.MaySpend(now)
            && _analysis.Analyse(history, from + best) is { } joint)
        {
            _joints.Add(joint);
        }
    }

    // Left and right in the lower lanes.
    private Vector128<float> Means(long block)
    {
        Level level = _levels[block % Ring];
        return Vector128.Create(level.Left, level.Right, 0, 0);
    }

    // Behind the filter a joint is the filter's own response and nothing more.
    private bool HasShape(FrameHistory history, int at, float leftLevel, float rightLevel)
    {
        Filter(history.Samples, at - ShapeFrames, _filtered);
        for (int i = 0; i <= 2 * ShapeFrames; i++)
        {
            if (Math.Abs(i - ShapeFrames) > HalfTaps + 2
                && (Math.Abs(_filtered[2 * i]) > ShapeLimit * leftLevel || Math.Abs(_filtered[(2 * i) + 1]) > ShapeLimit * rightLevel))
            {
                return false;
            }
        }

        return true;
    }

    private static float Height(Level level, float left, float right) =>
        ((level.LeftPeak / left) * (level.LeftPeak / left)) + ((level.RightPeak / right) * (level.RightPeak / right));

    private readonly record struct Level(float Left, float Right, float LeftPeak, float RightPeak);
}
