using Station.Audio.Reading;

namespace Station.Evaluation.Judging;

/// <summary>
/// The naive way, for comparison: where the level over 20 ms stays below a fixed threshold for 1.5 s there is a gap, what lies between is a track, and what
/// is shorter than 5 s (a landing, a knock) is none. Levels: full-scale sine = 0, mean of both channels.
/// </summary>
/// <param name="format">What the container says.</param>
/// <param name="thresholdDbfs">The threshold.</param>
public sealed class FixedThresholdSplitter(CaptureFormat format, double thresholdDbfs)
{
    private const double ShortestGapSeconds = 1.5;
    private const double ShortestTrackSeconds = 5;
    private readonly double _threshold = Math.Pow(10, thresholdDbfs / 10) / 2;
    private readonly int _step = format.SampleRateHz / 50;
    private readonly List<FoundTrack> _tracks = [];
    private double _sum;
    private int _frames;
    private int _steps;
    private int _first = -1;
    private int _last = -1;

    /// <summary>Adds samples.</summary>
    public void Add(ReadOnlySpan<float> samples)
    {
        for (int i = 0; i < samples.Length; i += format.Channels)
        {
            for (int channel = 0; channel < format.Channels; channel++)
            {
                _sum += samples[i + channel] * (double)samples[i + channel];
            }

            if (++_frames == _step)
            {
                EndStep();
            }
        }
    }

    /// <summary>The tracks.</summary>
    public FoundDivision Finish()
    {
        Close();
        return new FoundDivision(_tracks, double.NaN);
    }

    private void EndStep()
    {
        if (_sum / (_frames * format.Channels) >= _threshold)
        {
            if (_first >= 0 && Seconds(_steps - _last - 1) >= ShortestGapSeconds)
            {
                Close();
            }

            _first = _first < 0 ? _steps : _first;
            _last = _steps;
        }

        _steps++;
        _sum = 0;
        _frames = 0;
    }

    private void Close()
    {
        if (_first >= 0 && Seconds(_last + 1 - _first) >= ShortestTrackSeconds)
        {
            _tracks.Add(new FoundTrack(Seconds(_first), Seconds(_last + 1), double.NaN, double.NaN));
        }

        _first = -1;
    }

    private double Seconds(int steps) => (double)steps * _step / format.SampleRateHz;
}
