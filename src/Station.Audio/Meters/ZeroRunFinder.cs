namespace Station.Audio.Meters;

/// <summary>Finds exact zeros in all channels inside sound: what a driver delivers instead of a buffer that came too late.</summary>
/// <remarks>
/// Not every zero is a loss. A recorder's silence before and after the sound has sound at one side only. A quiet fade of 16 bits is full of short runs, but
/// neighbouring samples there differ by a step of the converter now and then, where sound moves all the time. So on both
/// sides of a run the frames of <see cref="FlankSeconds"/> must move, and reach well above the finest step.
/// </remarks>
internal sealed class ZeroRunFinder
{
    /// <summary>Shortest run: seconds, and frames at low rates. Shorter ones may be a wave's slow way through zero (own choice).</summary>
    public const double ShortestSeconds = 0.0003;

    /// <summary>Longest run, seconds: beyond it somebody switched the sound off (own choice).</summary>
    public const double LongestSeconds = 2;

    /// <summary>How much sound on either side is looked at, seconds (own choice).</summary>
    public const double FlankSeconds = 0.002;

    private const int ShortestFrames = 12;

    // RMS difference of neighbouring samples, and peak, that sound at either side must have: 1.5 and 12 steps of 16 bits (own choice).
    private const double LeastMovement = 1.5 / 32768;
    private const float LeastPeak = 12f / 32768;

    private readonly int _shortest;
    private readonly int _longest;
    private readonly int _flank;
    private readonly List<ZeroRun> _runs = [];
    private long _runFirst = -1;                            // -1: no run open
    private (long First, int Frames)? _pending;             // a run whose far side is still to come

    public ZeroRunFinder(int sampleRateHz)
    {
        _shortest = Math.Max(ShortestFrames, (int)(ShortestSeconds * sampleRateHz));
        _longest = (int)(LongestSeconds * sampleRateHz);
        _flank = Math.Max(ShortestFrames, (int)(FlankSeconds * sampleRateHz));
    }

    /// <summary>Frames behind the newest step that must be kept.</summary>
    public int HistoryFrames => 2 * _flank;

    public IReadOnlyList<ZeroRun> Runs => _runs;

    /// <summary>Looks at the frames of a new step.</summary>
    /// <param name="history">Holds them.</param>
    /// <param name="index">Index of the first.</param>
    public void Add(FrameHistory history, int index)
    {
        ReadOnlySpan<ulong> frames = history.Frames;
        while (index < frames.Length)
        {
            if (_runFirst < 0)
            {
                int next = frames[index..].IndexOf(0UL);
                if (next < 0)
                {
                    break;
                }

                index += next;
                _runFirst = history.FirstFrame + index;
                if (_pending is null)
                {
                    _movesBefore = Moves(history, Math.Max(0, index - _flank), index);
                }
            }

            int end = frames[index..].IndexOfAnyExcept(0UL);
            if (end < 0)
            {
                break;
            }

            index += end;
            Close(history.FirstFrame + index);
        }

        Settle(history);
    }

    private bool _movesBefore;

    private void Close(long end)
    {
        long frames = end - _runFirst;
        if (_pending is null && frames >= _shortest && frames <= _longest && _movesBefore)
        {
            _pending = (_runFirst, (int)frames);
        }

        _runFirst = -1;
    }

    private void Settle(FrameHistory history)
    {
        if (_pending is not { } run || history.EndFrame < run.First + run.Frames + _flank)
        {
            return;
        }

        int from = (int)(run.First + run.Frames - history.FirstFrame);
        if (Moves(history, from, from + _flank) && _runs.Count < LossMeter.MaxPlaces)
        {
            _runs.Add(new ZeroRun(run.First, run.Frames));
        }

        _pending = null;
    }

    private static bool Moves(FrameHistory history, int from, int to)
    {
        ReadOnlySpan<float> samples = history.Samples;
        for (int channel = 0; channel < 2; channel++)
        {
            double movement = 0;
            float peak = 0;
            for (int i = from + 1; i < to; i++)
            {
                float x = samples[(2 * i) + channel];
                double difference = (double)x - samples[(2 * i) - 2 + channel];
                movement += difference * difference;
                peak = Math.Max(peak, Math.Abs(x));
            }

            if (to - from > 1 && peak >= LeastPeak && movement >= LeastMovement * LeastMovement * (to - from - 1))
            {
                return true;
            }
        }

        return false;
    }
}
