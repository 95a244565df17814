namespace Station.Audio.Synthesis;

/// <summary>One tick to come.</summary>
/// <param name="Frame">First frame.</param>
/// <param name="Peak">Peak at the output, linear.</param>
/// <param name="Width">Index into <see cref="TickShapes"/>.</param>
/// <param name="Left">Share of the left channel, −1 to 1.</param>
/// <param name="Right">Share of the right channel, −1 to 1; the louder channel has ±1.</param>
internal readonly record struct Tick(long Frame, double Peak, int Width, float Left, float Right);

/// <summary>
/// All ticks of a side in order of time: the crackle of the needle drop, a Poisson process through the groove, and in the closed
/// groove the same few every turn.
/// </summary>
internal struct TickSchedule
{
    private const int DropTicks = 45;
    private const double DropSeconds = 0.5;

    private readonly SidePlan _plan;
    private readonly SideTimeline _timeline;
    private readonly long _freeStart;
    private readonly long _freeEnd;
    private SeededRandom _random;
    private SeededRandom _turnRandom;
    private int _drop;
    private double _at;
    private int _turn;
    private double _atInTurn;

    public TickSchedule(SidePlan plan, SideTimeline timeline)
    {
        _plan = plan;
        _timeline = timeline;
        _random = new SeededRandom(plan.Seed, RandomStream.Ticks);
        _freeStart = Math.Min(timeline.Lift, timeline.NeedleDown + (long)(DropSeconds * plan.SampleRateHz));
        _freeEnd = Math.Min(timeline.Lift, timeline.ClosedGroove);
        _at = timeline.NeedleDown;
    }

    public bool TryNext(out Tick tick)
    {
        if (_drop < DropTicks)
        {
            // Intervals grow, so that the burst thins out.
            double share = (double)_drop++ / DropTicks;
            _at += DropSeconds / DropTicks * 1.6 * (0.25 + (1.2 * share)) * _random.Unit() * _plan.SampleRateHz;
            if (_at < _freeStart)
            {
                tick = Draw(ref _random, (long)_at, 1 - (0.5 * share));
                return true;
            }

            _drop = DropTicks;
        }

        if (_plan.TicksPerMinute <= 0)
        {
            tick = default;
            return false;
        }

        double meanInterval = 60 * _plan.SampleRateHz / _plan.TicksPerMinute;
        if (_turn == 0)
        {
            _at = Math.Max(_at, _freeStart) - (meanInterval * Math.Log(1 - _random.Unit()));
            if (_at < _freeEnd)
            {
                tick = Draw(ref _random, (long)_at, 1);
                return true;
            }

            BeginTurn();
        }

        while (_timeline.ClosedTurn(_turn - 1) < _timeline.Lift)
        {
            _atInTurn -= meanInterval * Math.Log(1 - _turnRandom.Unit());
            long frame = _timeline.ClosedTurn(_turn - 1) + (long)_atInTurn;
            if (_atInTurn < _timeline.TurnFrames - 1 && frame < _timeline.Lift)
            {
                tick = Draw(ref _turnRandom, frame, 1);
                return true;
            }

            BeginTurn();
        }

        tick = default;
        return false;
    }

    private void BeginTurn()
    {
        _turn++;
        _atInTurn = 0;
        _turnRandom = new SeededRandom(_plan.Seed, RandomStream.Ticks, 1);
    }

    private readonly Tick Draw(ref SeededRandom random, long frame, double size)
    {
        double largest = _plan.LargestTickDbfs;
        double smallest = Math.Min(largest, _plan.GrooveNoiseDbfs + 18);
        double u = random.Unit();
        double decibels = smallest + ((largest - smallest) * u * u * size);
        int width = random.Below(TickShapes.Count);
        double sign = random.Chance(0.5) ? 1 : -1;
        double other = random.Between(-1, 0.6);
        bool left = random.Chance(0.5);
        return new Tick(frame, sign * Math.Pow(10, decibels / 20), width, left ? 1 : (float)other, left ? (float)other : 1);
    }
}
