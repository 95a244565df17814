using System.Collections.Immutable;

namespace Station.Audio.Meters.Skips;

/// <summary>
/// Keeps the strongest bursts of slow stylus motion of a side, with a second of sound around each, and tells at the end how far the music and its beat go on across them.
/// </summary>
/// <remarks>2 MB, and 360 kB an hour.</remarks>
internal sealed class SkipMeter
{
    /// <summary>Bursts told of.</summary>
    public const int Told = 24;

    // A bass drum on each beat must not push out a knock before the side's own strength is known (own choice).
    private const int Kept = 48;

    // A burst is the strongest within so many sets on either side: 0.25 s, less than a beat.
    private const int ApartSets = KnockBand.SetsPerSecond / 4;

    // Quieter than this against the mean of the side so far is bare groove: 24 dB (own choice).
    private const double MusicShare = 0.004;

    // Mean square of the slope at the low rate below which there is nothing to be heard: −90 dB (own choice).
    private const double Silence = 1e-9;

    // At beginnings and ends of tracks nothing goes on either. Seconds.
    private const double EdgeSeconds = 1;

    private const double PauseSeconds = 1.5;

    private const int RingSteps = 64;
    private const int Ring = 16_384;                        // two seconds at 8 kHz

    private readonly int _sampleRateHz;
    private readonly double _lowRateHz;
    private readonly double _setSeconds;
    private readonly KnockBand _band;
    private readonly JumpProof _proof;
    private readonly KnockScale _scale = new();
    private readonly float[] _sets = new float[KnockBand.MostSets * KnockBand.Values];
    private readonly float[] _recent = new float[((2 * ApartSets) + 1) * KnockBand.Values];
    private readonly double[] _heights = new double[(2 * ApartSets) + 1];
    private readonly float[] _low = new float[Ring];
    private readonly double[] _music = new double[RingSteps];
    private readonly List<KnockCandidate> _candidates = new(Kept);
    private readonly Stack<KnockCandidate> _spare = new(Kept + 1);
    private readonly Queue<KnockCandidate> _waiting = new();        // for the sound behind them
    private readonly OnsetCourse _onsets;
    private long _lowSamples;
    private long _steps;
    private long _setCount;
    private double _musicSum;
    private long _musicSteps;
    private float _last;

    /// <param name="sampleRateHz">Frames per second, 8,000 and up.</param>
    /// <param name="lowRateHz">Samples per second of the low stream, 5 to 8 kHz.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public SkipMeter(int sampleRateHz, double lowRateHz, int expectedSteps = 0)
    {
        _sampleRateHz = sampleRateHz;
        _lowRateHz = lowRateHz;
        _setSeconds = (double)StepLength.Frames(sampleRateHz) * StepLength.StepsPerSecond / sampleRateHz / KnockBand.SetsPerSecond;
        _band = new KnockBand(sampleRateHz);
        _proof = new JumpProof(lowRateHz);
        for (int i = 0; i <= Kept; i++)
        {
            _spare.Push(new KnockCandidate(_proof.SamplesInAll));
        }
        _onsets = new OnsetCourse(lowRateHz, (double)expectedSteps / StepLength.StepsPerSecond);
    }

    /// <summary>Adds a step.</summary>
    /// <param name="pieces">Its sums.</param>
    /// <param name="low">The step, mixed to one channel at the low rate.</param>
    public void Add(StepPieces pieces, ReadOnlySpan<float> low)
    {
        bool music = Hear(low);
        _onsets.Add(low);
        int sets = _band.Add(pieces, _sets);
        for (int i = 0; i < sets; i++)
        {
            Take(_sets.AsSpan(i * KnockBand.Values, KnockBand.Values), music);
        }

        while (_waiting.TryPeek(out KnockCandidate? candidate) && candidate.FirstSample + _proof.SamplesInAll <= _lowSamples)
        {
            Keep(_waiting.Dequeue());
        }
    }

    /// <summary>Ends the pass.</summary>
    /// <param name="outline">Where the music is.</param>
    public SkipReading Finish(SideOutline outline)
    {
        _scale.Update();
        double least = Math.Max(Silence, MusicShare * _musicSum / Math.Max(1, _musicSteps));
        IEnumerable<(KnockCandidate Candidate, double Height)> strongest = _candidates
            .Where(candidate => candidate.Music >= least && InMusic(candidate.Seconds, outline))
            .Select(candidate => (candidate, _scale.Height(candidate.Set)))
            .OrderByDescending(each => each.Item2).ThenBy(each => each.candidate.Seconds)
            .Take(Told);
        var knocks = ImmutableArray.CreateBuilder<Knock>(Told);
        foreach ((KnockCandidate candidate, double height) in strongest)
        {
            JumpInstant instant = _proof.Find(candidate.Sound);
            double seconds = (candidate.FirstSample + instant.At) / _lowRateHz;
            knocks.Add(new Knock(seconds, 10 * Math.Log10(height), instant.Continuity)
            {
                Break = instant.Break,
                Phases = instant.Phases,
                LagSeconds = (instant.At - _proof.SamplesBefore) / _lowRateHz,
                Beat = BeatContinuity.Of(_onsets.Rises, _onsets.PlaceOf(seconds), _onsets.SecondsPerValue),
            });
        }

        return new SkipReading { Knocks = knocks.ToImmutable() };
    }

    // Keeps the low stream; whether there is music now.
    private bool Hear(ReadOnlySpan<float> low)
    {
        double sum = 0;
        foreach (float sample in low)
        {
            float slope = sample - _last;
            sum += slope * slope;
            _last = sample;
            _low[(int)(_lowSamples++ & (Ring - 1))] = sample;
        }

        double mean = low.IsEmpty ? 0 : sum / low.Length;
        _music[_steps++ & (RingSteps - 1)] = mean;
        if (mean > Silence)
        {
            _musicSum += mean;
            _musicSteps++;
        }

        return mean > Math.Max(Silence, MusicShare * _musicSum / Math.Max(1, _musicSteps));
    }

    private void Take(ReadOnlySpan<float> set, bool music)
    {
        int length = _heights.Length;
        int at = (int)(_setCount % length);
        set.CopyTo(_recent.AsSpan(at * KnockBand.Values));
        _heights[at] = _scale.Height(set);
        if (music)
        {
            _scale.Add(set);
        }

        _setCount++;
        if (_setCount % KnockBand.SetsPerSecond == 0)
        {
            _scale.Update();
        }

        if (_setCount < length)
        {
            return;
        }

        int middle = (int)((_setCount - 1 - ApartSets) % length);
        double height = _heights[middle];
        foreach (double other in _heights)
        {
            if (other > height)
            {
                return;
            }
        }

        Consider(_recent.AsSpan(middle * KnockBand.Values, KnockBand.Values), (_setCount - ApartSets) * _setSeconds);
    }

    private void Consider(ReadOnlySpan<float> set, double seconds)
    {
        long first = (long)Math.Round(seconds * _lowRateHz) - _proof.SamplesBefore;
        if (first < Math.Max(0, _lowSamples - Ring))
        {
            return;
        }

        // From 0.2 to 0.05 s before and as much behind.
        long step = (long)(seconds * _sampleRateHz / StepLength.Frames(_sampleRateHz));
        double music = Math.Min(Music(step - 10, step - 3), Music(step + 2, step + 9));
        if (music < Math.Max(Silence, MusicShare * _musicSum / Math.Max(1, _musicSteps)))
        {
            return;
        }

        KnockCandidate candidate = _spare.Count > 0 ? _spare.Pop() : new KnockCandidate(_proof.SamplesInAll);
        candidate.FirstSample = first;
        candidate.Seconds = seconds;
        candidate.Music = music;
        set.CopyTo(candidate.Set);
        _waiting.Enqueue(candidate);
    }

    private void Keep(KnockCandidate candidate)
    {
        if (_candidates.Count == Kept)
        {
            int weakest = 0;
            double least = double.PositiveInfinity;
            for (int i = 0; i < _candidates.Count; i++)
            {
                double other = _scale.Height(_candidates[i].Set);
                if (other < least)
                {
                    (least, weakest) = (other, i);
                }
            }

            if (least >= _scale.Height(candidate.Set))
            {
                _spare.Push(candidate);
                return;
            }

            _spare.Push(_candidates[weakest]);
            _candidates.RemoveAt(weakest);
        }

        for (int i = 0; i < candidate.Sound.Length; i++)
        {
            candidate.Sound[i] = _low[(int)((candidate.FirstSample + i) & (Ring - 1))];
        }

        _candidates.Add(candidate);
    }

    private double Music(long fromStep, long toStep)
    {
        double sum = 0;
        int count = 0;
        for (long step = Math.Max(0, Math.Max(fromStep, _steps - RingSteps)); step < Math.Min(toStep, _steps); step++)
        {
            sum += _music[step & (RingSteps - 1)];
            count++;
        }

        return count > 0 ? sum / count : 0;
    }

    private bool InMusic(double seconds, SideOutline outline)
    {
        double step = (double)outline.StepFrames / _sampleRateHz;
        if (outline.Music.IsEmpty)
        {
            // Nothing is known but where the capture begins and ends; the level before and behind has been looked at.
            return seconds >= EdgeSeconds && seconds <= (outline.Steps * step) - EdgeSeconds;
        }

        for (int i = 0; i < outline.Music.Length; i++)
        {
            // Spans with a short pause between them are one.
            int first = outline.Music[i].FirstStep;
            while (i + 1 < outline.Music.Length && (outline.Music[i + 1].FirstStep - outline.Music[i].EndStep) * step < PauseSeconds)
            {
                i++;
            }

            if (seconds >= (first * step) + EdgeSeconds && seconds <= (outline.Music[i].EndStep * step) - EdgeSeconds)
            {
                return true;
            }
        }

        return false;
    }
}
