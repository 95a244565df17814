using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Where a clipped run lies, and so whose fault it is.</summary>
internal enum ClipPlace
{
    /// <summary>In music that is loud enough to have clipped: the level's fault.</summary>
    Music,

    /// <summary>As <see cref="Music"/>, but within seconds of where the music begins or ends: perhaps the needle's fault.</summary>
    NearNeedle,

    /// <summary>Alone, with music that stays well below full scale around it.</summary>
    Tick,

    /// <summary>In a quiet groove before the music or after it: the needle being set down or lifted.</summary>
    Needle,
}

/// <summary>Sorts clipped runs by what surrounds them.</summary>
/// <remarks>
/// Of the second around a run, the loudest tenth of the steps without clipping tells how loud the music is there; overdriven music is loud
/// beside its clipped steps, and where most steps are clipped there is no question. Where the three seconds around a step have a median
/// peak below the limit there is no music; what lies before the first and after the last music belongs to the needle.
/// </remarks>
internal sealed class ClipPlaces
{
    private const int NearSteps = StepLength.StepsPerSecond / 2;
    private const int WideSteps = StepLength.StepsPerSecond * 3 / 2;

    private readonly LevelEnvelope _envelope;
    private readonly InspectionLimits _limits;
    private readonly float[] _peak;
    private readonly bool[] _clipped;
    private readonly bool[] _music;
    private readonly int _musicFirst;
    private readonly int _musicLast;

    public ClipPlaces(LevelEnvelope envelope, IEnumerable<ClipRun> runs, InspectionLimits limits)
    {
        _envelope = envelope;
        _limits = limits;
        _peak = envelope.Peak(0).ToArray();
        if (envelope.Channels == 2)
        {
            ReadOnlySpan<float> right = envelope.Peak(1);
            for (int step = 0; step < _peak.Length; step++)
            {
                _peak[step] = Math.Max(_peak[step], right[step]);
            }
        }

        _clipped = new bool[_peak.Length];
        foreach (ClipRun run in runs)
        {
            int last = Math.Min(_peak.Length - 1, StepOf(run.FirstFrame + run.Frames) + 1);
            for (int step = Math.Max(0, StepOf(run.FirstFrame) - 1); step <= last; step++)
            {
                _clipped[step] = true;
            }
        }

        _music = new bool[_peak.Length];
        MarkMusic();
        _musicFirst = Array.IndexOf(_music, value: true);
        _musicLast = Array.LastIndexOf(_music, value: true);
    }

    public ClipPlace Of(in ClipRun run)
    {
        int step = StepOf(run.FirstFrame);
        if (!_music[step])
        {
            return step < _musicFirst || step > _musicLast ? ClipPlace.Needle : ClipPlace.Tick;
        }

        if (!LoudNear(step))
        {
            return ClipPlace.Tick;
        }

        // No needle holds a converter at its end that long.
        if (run.Frames > _envelope.SampleRateHz / 10)
        {
            return ClipPlace.Music;
        }

        int needleSteps = (int)(_limits.NeedleSeconds * StepLength.StepsPerSecond);
        bool longEnough = _musicLast - _musicFirst > 3 * needleSteps;
        return longEnough && (step < _musicFirst + needleSteps || step > _musicLast - needleSteps) ? ClipPlace.NearNeedle : ClipPlace.Music;
    }

    private static float Linear(double dbfs) => (float)Math.Pow(10, dbfs / 20);

    private int StepOf(long frame) => (int)Math.Min(_peak.Length - 1, frame / _envelope.StepFrames);

    private bool LoudNear(int step)
    {
        int from = Math.Max(0, step - NearSteps);
        int to = Math.Min(_peak.Length, step + NearSteps + 1);
        List<float> free = [];
        for (int i = from; i < to; i++)
        {
            if (!_clipped[i])
            {
                free.Add(_peak[i]);
            }
        }

        if (free.Count < (to - from) / 3)
        {
            return true;
        }

        free.Sort();
        return free[free.Count * 9 / 10] >= Linear(_limits.MusicNearClippingDbfs);
    }

    private void MarkMusic()
    {
        const int Stride = 10;
        float limit = Linear(_limits.QuietSurroundingsDbfs);
        float[] window = new float[(2 * WideSteps) + 1];
        bool music = false;
        for (int step = 0; step < _peak.Length; step++)
        {
            if (step % Stride == 0)
            {
                int from = Math.Max(0, step - WideSteps);
                int to = Math.Min(_peak.Length, step + WideSteps + 1);
                Span<float> part = window.AsSpan(0, to - from);
                _peak.AsSpan(from, to - from).CopyTo(part);
                part.Sort();
                music = part[part.Length / 2] >= limit;
            }

            _music[step] = music;
        }
    }
}
