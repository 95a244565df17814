namespace Station.Audio.Synthesis;

/// <summary>
/// Makes a side block by block, in order, always in the same blocks, whoever asks and however much. Memory is allotted once.
/// </summary>
internal sealed class SideRenderer
{
    /// <summary>Frames of every block but the last.</summary>
    public const int BlockFrames = 512;

    // The stylus finds and leaves the groove within 3 ms.
    private const double ContactSeconds = 0.003;
    private const int MostTicksAtOnce = 64;

    private readonly SideSetup _setup;
    private readonly SideTimeline _timeline;
    private readonly TrackPlayer _player;
    private readonly float[] _left = new float[BlockFrames];
    private readonly float[] _right = new float[BlockFrames];
    private readonly float[] _musicLeft = new float[BlockFrames];
    private readonly float[] _musicRight = new float[BlockFrames];
    private readonly Tick[] _sounding = new Tick[MostTicksAtOnce];
    private readonly HumTone? _hum;
    private readonly float _electronics;
    private int _soundingTicks;
    private SeededRandom _noise;
    private SeededRandom _electronicsNoise;
    private ArmResonance _armLateral, _armVertical;
    private TickSchedule _ticks;
    private Tick _nextTick;
    private bool _hasTick;
    private Thump _thump;
    private ReplayCurve.State _curveLeft, _curveRight;
    private RumbleFilter _rumbleLeft, _rumbleRight;
    private int _closedTurn;
    private int _track;
    private long _frame;

    public SideRenderer(SideSetup setup)
    {
        _setup = setup;
        _timeline = setup.Timeline;
        SidePlan plan = setup.Plan;
        _player = new TrackPlayer(plan.SampleRateHz, plan.MonoDisc);
        _noise = new SeededRandom(plan.Seed, RandomStream.GrooveNoise);
        _electronicsNoise = new SeededRandom(plan.Seed, RandomStream.Electronics);
        double arm = Math.Sqrt(setup.Level.BandPower) * Math.Pow(10, plan.ArmResonanceOverNoiseDb / 20);
        _armLateral = new ArmResonance(plan, RandomStream.ArmResonance, 0, arm * Math.Sqrt(0.4));
        _armVertical = new ArmResonance(plan, RandomStream.ArmResonance, 1, arm * Math.Sqrt(0.6));
        _ticks = new TickSchedule(plan, _timeline);
        _hasTick = _ticks.TryNext(out _nextTick);
        _thump = new Thump(plan.SampleRateHz);
        _rumbleLeft = _rumbleRight = new RumbleFilter(plan.RumbleFilterHz, plan.SampleRateHz);
        _hum = plan.Hum is { } hum ? new HumTone(hum, plan.SampleRateHz) : null;

        // Uniform noise of ±1 has power 1/3; a full-scale sine has 1/2.
        _electronics = (float)(Math.Pow(10, plan.ElectronicsNoiseDbfs / 20) * Math.Sqrt(1.5));
    }

    /// <summary>First frame of the block rendered last.</summary>
    public long BlockStart { get; private set; }

    /// <summary>Left channel of the block rendered last, before the converter.</summary>
    public ReadOnlySpan<float> Left => _left.AsSpan(0, _count);

    /// <summary>Right channel of the block rendered last, before the converter.</summary>
    public ReadOnlySpan<float> Right => _right.AsSpan(0, _count);

    private int _count;

    /// <summary>Renders the next block; false after the last.</summary>
    public bool Next()
    {
        BlockStart = _frame;
        _count = (int)Math.Min(BlockFrames, _timeline.Frames - _frame);
        if (_count <= 0)
        {
            _count = 0;
            return false;
        }

        Span<float> left = _left.AsSpan(0, _count);
        Span<float> right = _right.AsSpan(0, _count);
        left.Clear();
        right.Clear();
        long end = _frame + _count;
        if (end > _timeline.NeedleDown)
        {
            if (_frame < _timeline.Lift)
            {
                FillNoise(left, right);
            }

            AddTicks(left, right);
            _setup.Curve.Apply(left, right, ref _curveLeft, ref _curveRight);
            if (_frame < _timeline.Lift)
            {
                AddArmResonance(left, right);
            }

            // What is in the air gives nothing; the knocks of lifting and setting down it does give, through the phono stage like the rest.
            MuteInTheAir(left, right, _frame);
            AddThumps(left, right);
            _rumbleLeft.Apply(left);
            _rumbleRight.Apply(right);
        }

        AddMusic(left, right);
        ApplyWiring(left, right);
        AddElectronics(left, right);
        _frame = end;
        return true;
    }

    private void FillNoise(Span<float> left, Span<float> right)
    {
        double gain = _setup.Level.Gain(_frame);
        double gainStep = (_setup.Level.Gain(_frame + left.Length) - gain) / left.Length;
        double mid = _setup.Level.Mid, side = _setup.Level.Side;
        long turn = _timeline.ClosedTurn(_closedTurn);
        bool steady = Contact(_frame) == 1 && Contact(_frame + left.Length) == 1;
        for (int i = 0; i < left.Length; i++)
        {
            long frame = _frame + i;
            if (frame == turn)
            {
                // The closed groove is the same groove every turn.
                _noise = new SeededRandom(_setup.Plan.Seed, RandomStream.GrooveNoise, 1);
                turn = _timeline.ClosedTurn(++_closedTurn);
            }

            _noise.BipolarPair(out float m, out float s);
            double contact = steady ? gain : gain * Contact(frame);
            left[i] = (float)(contact * ((mid * m) + (side * s)));
            right[i] = (float)(contact * ((mid * m) - (side * s)));
            gain += gainStep;
        }
    }

    private double Contact(long frame)
    {
        double ramp = ContactSeconds * _setup.Plan.SampleRateHz;
        long since = frame - _timeline.NeedleDown;
        long until = _timeline.Lift - frame;
        return since >= ramp && until >= ramp ? 1 : Math.Clamp(Math.Min(since, until) / ramp, 0, 1);
    }

    private void MuteInTheAir(Span<float> left, Span<float> right, long firstFrame)
    {
        double ramp = ContactSeconds * _setup.Plan.SampleRateHz;
        foreach (TrackPlace air in _timeline.InTheAir)
        {
            int from = (int)Math.Clamp(air.Start - firstFrame, 0, left.Length);
            int to = (int)Math.Clamp(air.End - firstFrame, 0, left.Length);
            for (int i = from; i < to; i++)
            {
                long frame = firstFrame + i;
                float contact = (float)Math.Max(0, 1 - (Math.Min(frame - air.Start, air.End - frame) / ramp));
                left[i] *= contact;
                right[i] *= contact;
            }
        }
    }

    private void AddTicks(Span<float> left, Span<float> right)
    {
        long end = _frame + left.Length;
        while (_hasTick && _nextTick.Frame < end)
        {
            if (_soundingTicks < MostTicksAtOnce)
            {
                _sounding[_soundingTicks++] = _nextTick;
            }

            _hasTick = _ticks.TryNext(out _nextTick);
        }

        for (int t = _soundingTicks - 1; t >= 0; t--)
        {
            Tick tick = _sounding[t];
            ReadOnlySpan<float> shape = _setup.Ticks[tick.Width];
            int from = (int)Math.Max(0, _frame - tick.Frame);
            int to = (int)Math.Min(shape.Length, end - tick.Frame);
            for (int n = from; n < to; n++)
            {
                int i = (int)(tick.Frame + n - _frame);
                float value = (float)(tick.Peak * shape[n]);
                left[i] += tick.Left * value;
                right[i] += tick.Right * value;
            }

            if (to == shape.Length)
            {
                _sounding[t] = _sounding[--_soundingTicks];
            }
        }
    }

    private void AddArmResonance(Span<float> left, Span<float> right)
    {
        bool steady = Contact(_frame) == 1 && Contact(_frame + left.Length) == 1;
        for (int i = 0; i < left.Length; i++)
        {
            float lateral = _armLateral.Next();
            float vertical = _armVertical.Next();
            double contact = steady ? 1 : Contact(_frame + i);
            left[i] += (float)(contact * (lateral + vertical));
            right[i] += (float)(contact * (lateral - vertical));
        }
    }

    private void AddThumps(Span<float> left, Span<float> right)
    {
        // In order of time: a lift may fall into the same block as the thump of a turn, which is longer than any block.
        long turn = _closedTurn > 0 && _timeline.ClosedTurn(_closedTurn - 1) is var last && last < _timeline.Lift ? last : -1;
        if (turn >= _frame && !_timeline.IsInTheAir(turn))
        {
            StartThump(turn, _setup.Plan.RunOutThumpDbfs, left, right);
        }

        StartThump(_timeline.NeedleDown, _setup.Plan.NeedleDropDbfs, left, right);
        foreach (TrackPlace air in _timeline.InTheAir)
        {
            StartThump(air.Start, _setup.Plan.RunOutThumpDbfs, left, right);
            StartThump(air.End, _setup.Plan.NeedleDropDbfs, left, right);
        }

        StartThump(_timeline.Lift, _setup.Plan.RunOutThumpDbfs, left, right);
        if (_thump.IsSounding)
        {
            _thump.AddTo(left[_thumpFrom..], right[_thumpFrom..]);
            _thumpFrom = 0;
        }
    }

    private int _thumpFrom;

    private void StartThump(long frame, double dbfs, Span<float> left, Span<float> right)
    {
        if (frame < _frame || frame >= _frame + left.Length)
        {
            return;
        }

        int at = Math.Max(_thumpFrom, (int)(frame - _frame));
        _thump.AddTo(left[_thumpFrom..at], right[_thumpFrom..at]);
        _thump.Start(Math.Pow(10, dbfs / 20));
        _thumpFrom = at;
    }

    private void AddMusic(Span<float> left, Span<float> right)
    {
        long end = _frame + left.Length;
        while (_track < _timeline.Tracks.Length && _timeline.Tracks[_track].Start < end)
        {
            TrackPlace place = _timeline.Tracks[_track];
            if (place.Start >= _frame)
            {
                _player.Start(_setup.Plan, _track);
            }

            int from = (int)Math.Max(0, place.Start - _frame);
            int to = (int)Math.Min(left.Length, place.End - _frame);
            Span<float> musicLeft = _musicLeft.AsSpan(0, to - from);
            Span<float> musicRight = _musicRight.AsSpan(0, to - from);
            _player.Render(musicLeft, musicRight);
            float gain = (float)_setup.TrackGains[_track];
            MuteInTheAir(musicLeft, musicRight, _frame + from);
            for (int i = 0; i < musicLeft.Length; i++)
            {
                left[from + i] += gain * musicLeft[i];
                right[from + i] += gain * musicRight[i];
            }

            if (place.End > end)
            {
                return;
            }

            _track++;
        }
    }

    private void ApplyWiring(Span<float> left, Span<float> right)
    {
        if (_setup.Plan.ReversedChannel is { } reversed)
        {
            foreach (ref float sample in reversed == SideChannel.Left ? left : right)
            {
                sample = -sample;
            }
        }

        if (_setup.Plan.DeadChannel is { } dead)
        {
            (dead == SideChannel.Left ? left : right).Clear();
        }
    }

    private void AddElectronics(Span<float> left, Span<float> right)
    {
        _hum?.AddTo(left, right, _frame);
        float gain = (float)_setup.LevelControl;
        for (int i = 0; i < left.Length; i++)
        {
            _electronicsNoise.BipolarPair(out float l, out float r);
            left[i] = gain * (left[i] + (_electronics * l));
            right[i] = gain * (right[i] + (_electronics * r));
        }
    }
}
