namespace Station.Audio.Meters;

/// <summary>Finds stretches that repeat what came just before, bit for bit: a buffer delivered twice.</summary>
/// <remarks>
/// <para>
/// A groove never sounds twice the same to the last bit, nor does a converter's own noise. A rolling hash of <see cref="Window"/> frames picks its own
/// places to remember (one frame in sixteen, by the hash's value): a stretch that comes again picks the same places, at whatever lag. Each hit is compared
/// frame by frame, so the hash alone decides nothing.
/// </para>
/// <para>
/// Digital silence, constants and quiet passages of a few codes do repeat: a stretch counts only with <see cref="LeastValues"/> different frames. A synthesised
/// periodic tone repeats for as long as it lasts, and smoothly: a stretch must begin or end with a jump of the wave, and may be longer than its lag only as
/// whole buffers are, with a jump at both ends. A stretch exactly as long as its lag, which is what a buffer delivered twice is, need not jump where its own wave is as
/// rough as noise, which never repeats, and what lies around it does not come again.
/// </para>
/// </remarks>
internal sealed class RepeatFinder
{
    /// <summary>Frames under one hash: the shortest stretch that can be found.</summary>
    public const int Window = 32;

    /// <summary>Shortest stretch that counts, frames: the smallest buffer in use (common practice, no source).</summary>
    public const int ShortestFrames = 64;

    /// <summary>Longest lag, seconds, and frames at low rates: longer buffers are not in use (common practice, no source).</summary>
    public const double LongestLagSeconds = 0.1;

    private const int LongestLagFrames = 8192;
    private const int LeastValues = 24;
    private const int MostCopies = 64;
    private const int Slack = 4;                            // frames that may agree by chance at either end
    private const double JumpOverMovement = 4;           // a sine reaches 1.4 of its RMS, noise 4 once in 10 000 frames
    private const double RoughOverMovement = 2.2;        // noise reaches that once in 40 frames
    private const int TableBits = 12;
    private const ulong Mixer = 0xBF58_476D_1CE4_E5B9;
    private const ulong Factor = 0x9E37_79B9_7F4A_7C15;     // 2^64 over the golden ratio, odd: spreads bits well (common practice)

    private readonly int _longestLag;
    private readonly ulong _leaving;                        // Factor to the power of Window, times Mixer: what a frame still counts when it leaves
    private readonly (ulong Hash, long Frame)[] _table = new (ulong Hash, long Frame)[1 << TableBits];
    private readonly List<RepeatedRun> _runs = [];
    private ulong _hash;
    private int _lag;                                       // 0: no stretch is open
    private long _first;

    public RepeatFinder(int sampleRateHz)
    {
        _longestLag = Math.Max(LongestLagFrames, (int)(LongestLagSeconds * sampleRateHz));
        _leaving = Mixer;
        for (int i = 0; i < Window; i++)
        {
            unchecked
            {
                _leaving *= Factor;
            }
        }

        Array.Fill(_table, (0UL, long.MinValue / 2));
    }

    /// <summary>Frames behind the newest step that must be kept: the lag, and as much before it to find a stretch's beginning.</summary>
    public int HistoryFrames => (2 * _longestLag) + Window;

    public IReadOnlyList<RepeatedRun> Runs => _runs;

    /// <summary>Looks at the frames of a new step.</summary>
    /// <param name="history">Holds them.</param>
    /// <param name="index">Index of the first.</param>
    public void Add(FrameHistory history, int index)
    {
        ReadOnlySpan<ulong> frames = history.Frames;
        ulong hash = _hash;
        int at = index;
        while (at < frames.Length)
        {
            if (_lag > 0)
            {
                int same = frames[at..].CommonPrefixLength(frames.Slice(at - _lag, frames.Length - at));
                hash = Hash(frames, hash, at, at + same);
                at += same;
                if (at == frames.Length)
                {
                    break;
                }

                Close(history, at);
            }

            hash = HashToMark(frames, hash, ref at);
            if (IsMark(hash))
            {
                Meet(history, hash, at);
            }
        }

        _hash = hash;
    }

    /// <summary>Ends the capture.</summary>
    public void Finish(FrameHistory history)
    {
        if (_lag > 0)
        {
            Close(history, history.Frames.Length);
        }
    }

    private static bool IsMark(ulong hash) => hash >> 60 == 0 && hash != 0;

    // Float samples of 16-bit words have empty low bits: mixed, and then multiplied with Mixer, so that every bit of both channels reaches the hash's top.
    private static ulong Mixed(ulong frame) => frame ^ (frame >> 29);

    private ulong Hash(ReadOnlySpan<ulong> frames, ulong hash, int from, int to)
    {
        for (int i = from; i < to; i++)
        {
            unchecked
            {
                hash = (hash * Factor) + (Mixed(frames[i]) * Mixer) - (i >= Window ? Mixed(frames[i - Window]) * _leaving : 0);
            }
        }

        return hash;
    }

    // On to the next place that is remembered, or to the end.
    private ulong HashToMark(ReadOnlySpan<ulong> frames, ulong hash, ref int at)
    {
        if (at < Window)
        {
            at++;
            return Hash(frames, hash, at - 1, at);
        }

        ulong leaving = _leaving;
        ReadOnlySpan<ulong> entering = frames[at..];
        ReadOnlySpan<ulong> left = frames.Slice(at - Window, entering.Length);
        for (int i = 0; i < entering.Length; i++)
        {
            unchecked
            {
                hash = (hash * Factor) + ((Mixed(entering[i]) * Mixer) - (Mixed(left[i]) * leaving));
            }

            if (IsMark(hash))
            {
                at += i + 1;
                return hash;
            }
        }

        at = frames.Length;
        return hash;
    }

    private void Meet(FrameHistory history, ulong hash, int end)
    {
        long frame = history.FirstFrame + end;
        ref (ulong Hash, long Frame) entry = ref _table[(hash >> (60 - TableBits)) & ((1 << TableBits) - 1)];
        long lag = frame - entry.Frame;
        bool again = entry.Hash == hash && lag >= ShortestFrames && lag <= _longestLag && end - lag >= Window;
        entry = (hash, frame);
        if (!again)
        {
            return;
        }

        ReadOnlySpan<ulong> frames = history.Frames;
        int from = end;
        while (from > lag && frames[from - 1] == frames[from - 1 - (int)lag])
        {
            from--;
        }

        if (end - from >= Window)
        {
            _lag = (int)lag;
            _first = history.FirstFrame + from;
        }
    }

    private void Close(FrameHistory history, int end)
    {
        int lag = _lag;
        _lag = 0;
        long length = history.FirstFrame + end - _first;
        if (length < ShortestFrames || _runs.Count >= LossMeter.MaxPlaces)
        {
            return;
        }

        int from = (int)Math.Max(0, _first - history.FirstFrame);
        if (DifferentFrames(history.Frames[from..end]) < LeastValues)
        {
            return;
        }

        bool jumpsIn = Jumps(history, from, from, end);
        bool jumpsOut = end < history.Frames.Length && history.Frames[end] != 0 && Jumps(history, end, from, end);
        if (length > lag + Slack)
        {
            long copies = (length + (lag / 2)) / lag;
            if (copies > MostCopies || Math.Abs(length - (copies * lag)) > Slack || !jumpsIn || !jumpsOut)
            {
                return;
            }
        }
        else if (!jumpsIn && !jumpsOut && !(Math.Abs(length - lag) <= Slack && StandsAlone(history, from, end, lag) && IsRough(history, from, end)))
        {
            return;
        }

        _runs.Add(new RepeatedRun(_first, (int)length, lag));
    }

    private static int DifferentFrames(ReadOnlySpan<ulong> frames)
    {
        Span<ulong> some = stackalloc ulong[Math.Min(ShortestFrames, frames.Length)];
        frames[^some.Length..].CopyTo(some);
        some.Sort();
        int different = 1;
        for (int i = 1; i < some.Length; i++)
        {
            different += some[i] == some[i - 1] ? 0 : 1;
        }

        return different;
    }

    // Whether the wave jumps near a frame: its second difference there against those inside the stretch.
    private static bool Jumps(FrameHistory history, int at, int from, int end)
    {
        for (int channel = 0; channel < 2; channel++)
        {
            double limit = JumpOverMovement * Movement(history, from, end, channel);
            if (Exceeds(history, Math.Max(2, at - Slack), Math.Min(at + Slack, history.Frames.Length), channel, limit))
            {
                return true;
            }
        }

        return false;
    }

    // Whether what lies beyond either end does not come again at the same lag: a tone whose last bit wavers once a period is broken into stretches, but goes on.
    private static bool StandsAlone(FrameHistory history, int from, int end, int lag)
    {
        ReadOnlySpan<ulong> frames = history.Frames;
        int before = Math.Max(lag, from - Window);
        int behind = Math.Min(frames.Length, end + Window);
        return 2 * Same(frames[before..from], frames[(before - lag)..(from - lag)]) <= from - before
            && 2 * Same(frames[end..behind], frames[(end - lag)..(behind - lag)]) <= Math.Max(Slack, behind - end);
    }

    private static int Same(ReadOnlySpan<ulong> these, ReadOnlySpan<ulong> those)
    {
        int same = 0;
        for (int i = 0; i < these.Length; i++)
        {
            same += these[i] == those[i] ? 1 : 0;
        }

        return same;
    }

    // Whether the wave inside moves as unevenly as noise does, and no tone.
    private static bool IsRough(FrameHistory history, int from, int end)
    {
        for (int channel = 0; channel < 2; channel++)
        {
            double limit = RoughOverMovement * Movement(history, from, end, channel);
            if (limit > 0 && Exceeds(history, Math.Max(2, end - Slack - Inside(from, end)), end - Slack, channel, limit))
            {
                return true;
            }
        }

        return false;
    }

    private static int Inside(int from, int end) => Math.Min(end - from, 4 * ShortestFrames) - (2 * Slack);

    private static double Movement(FrameHistory history, int from, int end, int channel)
    {
        int inside = Inside(from, end);
        double square = 0;
        for (int i = end - Slack - inside; i < end - Slack; i++)
        {
            double d = i < 2 ? 0 : Second(history.Samples, i, channel);
            square += d * d;
        }

        return Math.Sqrt(square / inside);
    }

    private static bool Exceeds(FrameHistory history, int from, int end, int channel, double limit)
    {
        for (int i = from; i < end; i++)
        {
            if (Math.Abs(Second(history.Samples, i, channel)) > limit)
            {
                return true;
            }
        }

        return false;
    }

    private static double Second(ReadOnlySpan<float> samples, int frame, int channel) =>
        (double)samples[(2 * frame) + channel] - (2.0 * samples[(2 * frame) - 2 + channel]) + samples[(2 * frame) - 4 + channel];
}
