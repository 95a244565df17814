namespace Station.Audio.Synthesis;

/// <summary>
/// One pass over the music of a track alone: its peak, and where it first and last exceeds any given level. Memory stays small: to
/// find a first crossing only the record highs matter, and to find a last one only the record highs counted from the end.
/// </summary>
internal sealed class TrackSurvey
{
    // Two one-pole high-passes leave out what the groove's own low end hides.
    private const double LowHz = 200;
    private const double StepSeconds = 0.02;

    private readonly List<Step> _rising = [];
    private readonly List<Step> _falling = [];
    private readonly int _stepFrames;

    private TrackSurvey(int stepFrames) => _stepFrames = stepFrames;

    /// <summary>Highest absolute sample of either channel, before the track's gain.</summary>
    public double Peak { get; private set; }

    public static TrackSurvey Of(TrackPlayer player, SidePlan plan, int track, TrackPlace place)
    {
        int stepFrames = (int)Math.Round(StepSeconds * plan.SampleRateHz);
        var survey = new TrackSurvey(stepFrames);
        float[] left = new float[stepFrames];
        float[] right = new float[stepFrames];
        double pole = Math.Exp(-2 * Math.PI * LowHz / plan.SampleRateHz);
        var leftFilter = default(HighPass);
        var rightFilter = default(HighPass);
        player.Start(plan, track);
        for (long at = 0; at < place.End - place.Start; at += stepFrames)
        {
            int count = (int)Math.Min(stepFrames, place.End - place.Start - at);
            player.Render(left.AsSpan(0, count), right.AsSpan(0, count));
            double power = Math.Max(survey.Measure(left.AsSpan(0, count), ref leftFilter, pole), survey.Measure(right.AsSpan(0, count), ref rightFilter, pole));
            survey.Add(new Step(at, power / count));
        }

        return survey;
    }

    public TrueTrack Truth(SideSetup setup, int track)
    {
        TrackPlace place = setup.Timeline.Tracks[track];
        double gain = setup.TrackGains[track];
        double startNoise = setup.Level.BandPowerNear(place.Start) / (gain * gain);
        double endNoise = setup.Level.BandPowerNear(place.End) / (gain * gain);
        Step first = _rising.Find(step => step.Power > startNoise);
        Step last = _falling.FindLast(step => step.Power > endNoise);
        bool heard = last.Power > 0 && first.Power > 0;
        return new TrueTrack(track + 1, place.Start, heard ? Math.Min(place.End, place.Start + last.Frame + _stepFrames) : place.End)
        {
            Title = setup.Plan.Tracks[track].Title,
            AudibleStartFrame = place.Start + (heard ? first.Frame : 0),
            SilenceFrame = place.End,
            PeakDbfs = 20 * Math.Log10(Math.Max(Peak * gain * setup.LevelControl, 1e-12)),
        };
    }

    private void Add(Step step)
    {
        if (_rising.Count == 0 || step.Power > _rising[^1].Power)
        {
            _rising.Add(step);
        }

        while (_falling.Count > 0 && _falling[^1].Power <= step.Power)
        {
            _falling.RemoveAt(_falling.Count - 1);
        }

        _falling.Add(step);
    }

    private double Measure(ReadOnlySpan<float> samples, ref HighPass filter, double pole)
    {
        double sum = 0;
        double peak = Peak;
        double x1 = filter.X1, y1 = filter.Y1, y2 = filter.Y2;
        double gain = (1 + pole) / 2;
        foreach (float sample in samples)
        {
            double y = (gain * (sample - x1)) + (pole * y1);
            y2 = (gain * (y - y1)) + (pole * y2);
            x1 = sample;
            y1 = y;
            sum += y2 * y2;
            peak = Math.Max(peak, Math.Abs(sample));
        }

        filter = new HighPass(x1, y1, y2);
        Peak = peak;
        return sum;
    }

    private readonly record struct Step(long Frame, double Power);

    private readonly record struct HighPass(double X1, double Y1, double Y2);
}
