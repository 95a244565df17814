using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Finds runs at the converter's full scale, of one channel.</summary>
/// <remarks>
/// <para>
/// Where full scale is, is known only at the end: a 16-bit converter's words padded to 24 bits top out at 0x7FFF00, not 0x7FFFFF. But
/// nothing can lie above the ceiling. So equal samples are followed from the 16-bit ceiling (32767/32768) up, and whenever a higher one
/// comes, all runs of that polarity below it are forgotten. At the end the highest level must be a full-scale code of the depth in use:
/// the largest positive code; or, downwards, the largest negative one, or its mirror image, where some converters stop.
/// </para>
/// <para>
/// Floats carry an integer converter's codes, whose depth is unknown: there the highest level counts when it lies from one 16-bit LSB
/// below 1.0 up to 1.0. Samples beyond 1.0 are another finding and end a run.
/// </para>
/// <para>
/// Depths in use of 2 to 11 bits have no runs: so few steps make flat tops of their own. A single bit in use is a capture stuck at full scale.
/// </para>
/// </remarks>
internal sealed class ClipMeter(int channel, MeterSettings settings)
{
    /// <summary>The largest positive 16-bit code; anything below cannot be a converter's ceiling.</summary>
    public const float LowestCeiling = 32767f / 32768f;

    private readonly int _shortest = settings.ShortestClipRunFrames;
    private readonly ClipRunList _top = new(settings.MaxClipRuns);
    private readonly ClipRunList _bottom = new(settings.MaxClipRuns);
    private readonly float[] _previous = new float[3];      // newest first
    private readonly float[] _before = new float[3];
    private readonly float[] _after = new float[3];
    private readonly float[] _pendingBefore = new float[3];
    private int _previousCount;
    private int _beforeCount;
    private int _pendingBeforeCount;
    private int _afterCount;
    private float _topLevel;
    private float _bottomLevel;
    private float _runLevel;                                 // signed; 0 when no run is open
    private long _runFirst;
    private int _runFrames;
    private ClipRun? _pending;

    /// <summary>Adds one step of this channel.</summary>
    /// <param name="samples">Interleaved, finite.</param>
    /// <param name="channels">Samples of one frame.</param>
    /// <param name="firstFrame">Frame of the step's first sample.</param>
    /// <param name="reachesCeiling">Whether any sample of this channel in the step reaches <see cref="LowestCeiling"/>.</param>
    public void Add(ReadOnlySpan<float> samples, int channels, long firstFrame, bool reachesCeiling)
    {
        if (!reachesCeiling && _runLevel == 0 && _pending is null)
        {
            // Nearly every step: only the last three samples can matter, to a run that begins with the next.
            int start = Math.Max(0, samples.Length - (3 * channels));
            for (int i = start + channel; i < samples.Length; i += channels)
            {
                Remember(samples[i]);
            }

            return;
        }

        long frame = firstFrame;
        for (int i = channel; i < samples.Length; i += channels, frame++)
        {
            AddSample(samples[i], frame);
        }
    }

    /// <summary>Ends the capture.</summary>
    /// <param name="effectiveBits">Depth in use; null for floats.</param>
    /// <returns>Runs in no particular order, their exact number, and the samples in them.</returns>
    public (ImmutableArray<ClipRun> Runs, long Count, long ClippedFrames) Finish(int? effectiveBits)
    {
        CloseRun();
        CommitPending();
        ImmutableArray<ClipRun>.Builder runs = ImmutableArray.CreateBuilder<ClipRun>();
        long count = 0;
        long frames = 0;
        foreach ((ClipRunList list, float level, bool positive) in new[] { (_top, _topLevel, true), (_bottom, _bottomLevel, false) })
        {
            if (list.Count > 0 && IsFullScale(level, positive, effectiveBits))
            {
                runs.AddRange(list.Runs);
                count += list.Count;
                frames += list.ClippedFrames;
            }
        }

        return (runs.ToImmutable(), count, frames);
    }

    private static bool IsFullScale(float level, bool positive, int? effectiveBits)
    {
        if (effectiveBits is not int bits)
        {
            return true;
        }

        if (bits is > 1 and < 12)
        {
            return false;
        }

        // In float32, as the samples are: beyond 25 bits the largest positive code rounds to 1.0.
        float largest = (float)(1 - Math.Pow(2, 1 - bits));
        return level == largest || (!positive && level == 1f);
    }

    private void AddSample(float sample, long frame)
    {
        if (_pending is not null)
        {
            _after[_afterCount++] = sample;
            if (_afterCount == _after.Length)
            {
                CommitPending();
            }
        }

        if (sample == _runLevel && sample != 0)
        {
            _runFrames++;
        }
        else
        {
            CloseRun(sample);
            float magnitude = Math.Abs(sample);
            if (magnitude is >= LowestCeiling and <= 1f)
            {
                OpenRun(sample, magnitude, frame);
            }
        }

        Remember(sample);
    }

    private void OpenRun(float sample, float magnitude, long frame)
    {
        ref float level = ref sample > 0 ? ref _topLevel : ref _bottomLevel;
        if (magnitude > level)
        {
            level = magnitude;
            (sample > 0 ? _top : _bottom).Clear();
            if (_pending is { } pending && pending.Positive == sample > 0)
            {
                _pending = null;
            }
        }

        if (magnitude == level)
        {
            _runLevel = sample;
            _runFirst = frame;
            _runFrames = 1;
            _beforeCount = _previousCount;
            _previous.CopyTo(_before, 0);
        }
    }

    private void CloseRun(float? next = null)
    {
        if (_runLevel != 0 && _runFrames >= _shortest)
        {
            CommitPending();
            _pending = new ClipRun(channel, _runFirst, _runFrames, _runLevel > 0, OvershootDb: null);
            _pendingBeforeCount = _beforeCount;
            _before.CopyTo(_pendingBefore, 0);
            _afterCount = 0;
            if (next is float sample)
            {
                _after[_afterCount++] = sample;
            }
        }

        _runLevel = 0;
    }

    private void CommitPending()
    {
        if (_pending is not { } run)
        {
            return;
        }

        _pending = null;
        ClipRunList list = run.Positive ? _top : _bottom;
        if (!list.KeepsNext)
        {
            list.Add(run);
            return;
        }

        float sign = run.Positive ? 1 : -1;
        Span<float> before = stackalloc float[_pendingBeforeCount];
        Span<float> after = stackalloc float[_afterCount];
        for (int i = 0; i < before.Length; i++)
        {
            before[i] = sign * _pendingBefore[i];
        }

        for (int i = 0; i < after.Length; i++)
        {
            after[i] = sign * _after[i];
        }

        double? overshoot = ClipOvershoot.EstimateDb(before, after, run.Positive ? _topLevel : _bottomLevel, run.Frames);
        list.Add(run with { OvershootDb = overshoot });
    }

    private void Remember(float sample)
    {
        _previous[2] = _previous[1];
        _previous[1] = _previous[0];
        _previous[0] = sample;
        _previousCount = Math.Min(3, _previousCount + 1);
    }
}
