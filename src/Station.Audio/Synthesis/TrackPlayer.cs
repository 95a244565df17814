using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Synthesis;

/// <summary>
/// Plays the score of one track after another: voices, their places in the stereo picture, room, fades. All memory is allotted once.
/// The music always begins with the first note at the first frame and is silent after the track's planned length.
/// </summary>
internal sealed class TrackPlayer
{
    private const int BlockFrames = 256;
    private const int DampedVoices = 48;
    private const int SustainedVoices = 20;
    private const int DrumVoices = 10;
    private const double TaperSeconds = 0.3;

    private readonly int _rate;
    private readonly bool _mono;
    private readonly Score _score = new();
    private readonly List<NoteEvent> _bar = new(128);
    private readonly Slot<DampedVoice>[] _damped = new Slot<DampedVoice>[DampedVoices];
    private readonly Slot<SustainedVoice>[] _sustained = new Slot<SustainedVoice>[SustainedVoices];
    private readonly Slot<DrumVoice>[] _drums = new Slot<DrumVoice>[DrumVoices];
    private readonly Room _room;
    private readonly float[] _left = new float[BlockFrames];
    private readonly float[] _right = new float[BlockFrames];
    private readonly float[] _send = new float[BlockFrames];
    private readonly float[] _scratch = new float[BlockFrames];
    private CutFilter _cut;
    private SeededRandom _random;
    private TrackPlan _plan = new() { Seconds = 4 };
    private long _frame;
    private int _note;
    private int _blockAt = BlockFrames;

    // Every chord voice is written twice, slightly detuned: one for each side.
    private bool _padsLeft;

    public TrackPlayer(int sampleRateHz, bool mono)
    {
        _rate = sampleRateHz;
        _mono = mono;
        _room = new Room(sampleRateHz, BlockFrames);
        for (int i = 0; i < DampedVoices; i++)
        {
            _damped[i] = new Slot<DampedVoice>(new DampedVoice());
        }

        for (int i = 0; i < SustainedVoices; i++)
        {
            _sustained[i] = new Slot<SustainedVoice>(new SustainedVoice());
        }

        for (int i = 0; i < DrumVoices; i++)
        {
            _drums[i] = new Slot<DrumVoice>(new DrumVoice());
        }
    }

    /// <summary>Begins a track of the plan.</summary>
    public void Start(SidePlan plan, int track)
    {
        _plan = plan.Tracks[track];
        int seed = plan.MusicSeed ?? plan.Seed;
        _score.Start(_plan, seed, track, _rate);
        _random = new SeededRandom(seed, RandomStream.Performance, track);
        _room.Reset(_plan.Character switch { TrackCharacter.Swell => 2.6, TrackCharacter.Lively => 0.9, TrackCharacter.Solo => 1.8, _ => 1.4 });
        foreach (Slot<DampedVoice> slot in _damped)
        {
            slot.IsOn = false;
        }

        foreach (Slot<SustainedVoice> slot in _sustained)
        {
            slot.IsOn = false;
        }

        foreach (Slot<DrumVoice> slot in _drums)
        {
            slot.IsOn = false;
        }

        _cut = new CutFilter(_rate);
        _frame = 0;
        _padsLeft = false;
        _blockAt = BlockFrames;
        NextBar();
    }

    /// <summary>Writes the next frames of the track.</summary>
    public void Render(Span<float> left, Span<float> right)
    {
        for (int done = 0; done < left.Length;)
        {
            if (_blockAt == BlockFrames)
            {
                RenderBlock();
                _blockAt = 0;
            }

            int take = Math.Min(left.Length - done, BlockFrames - _blockAt);
            _left.AsSpan(_blockAt, take).CopyTo(left[done..]);
            _right.AsSpan(_blockAt, take).CopyTo(right[done..]);
            _blockAt += take;
            done += take;
        }
    }

    private void RenderBlock()
    {
        Array.Clear(_left);
        Array.Clear(_right);
        Array.Clear(_send);
        long end = _frame + BlockFrames;
        while (_note < _bar.Count || NextBar())
        {
            NoteEvent note = _bar[_note];
            if (note.Frame >= end)
            {
                break;
            }

            // Looseness may put the first note of a bar before its bar line; it is played as soon as the bar is known.
            Play(note, (int)Math.Max(0, note.Frame - _frame));
            _note++;
        }

        foreach (Slot<DampedVoice> slot in _damped)
        {
            if (slot.IsOn)
            {
                Span<float> part = _scratch.AsSpan(slot.Begin());
                slot.Voice.Render(part);
                Mix(slot, part);
                slot.IsOn = slot.Voice.IsSounding;
            }
        }

        foreach (Slot<SustainedVoice> slot in _sustained)
        {
            if (slot.IsOn)
            {
                Span<float> part = _scratch.AsSpan(slot.Begin());
                slot.Voice.Render(part);
                Mix(slot, part);
                slot.IsOn = slot.Voice.IsSounding;
            }
        }

        foreach (Slot<DrumVoice> slot in _drums)
        {
            if (slot.IsOn)
            {
                Span<float> part = _scratch.AsSpan(slot.Begin());
                slot.Voice.Render(part);
                Mix(slot, part);
                slot.IsOn = slot.Voice.IsSounding;
            }
        }

        _room.AddTo(_send, _left, _right);
        _cut.Apply(_left, _right);
        Fade();
        _frame = end;
    }

    private bool NextBar()
    {
        _note = 0;
        if (!_score.NextBar(_bar))
        {
            _bar.Clear();
            return false;
        }

        _bar.Sort(static (a, b) => a.Frame != b.Frame ? a.Frame.CompareTo(b.Frame) : a.Instrument != b.Instrument ? a.Instrument.CompareTo(b.Instrument) : a.Pitch.CompareTo(b.Pitch));
        return _bar.Count > 0 || NextBar();
    }

    private void Play(NoteEvent note, int from)
    {
        // Pan −1 left to 1 right; share sent to the room; level against the others.
        (double pan, double send, double level) = note.Instrument switch
        {
            Instrument.Keys => (Math.Clamp((note.Pitch - 64) / 30, -0.5, 0.5), 0.22, 0.62),
            Instrument.Plucked => (0.42, 0.16, 0.5),
            Instrument.Bass => (0.0, 0.04, 0.8),
            Instrument.Bells => (-0.3, 0.4, 0.4),
            Instrument.Bowed => (0.32, 0.3, 0.62),
            Instrument.BowedPad => ((_padsLeft = !_padsLeft) ? -0.5 : 0.5, 0.35, 0.42),
            Instrument.Reed => (-0.22, 0.25, 0.6),
            Instrument.Kick => (0, 0.02, 1),
            Instrument.Snare => (-0.08, 0.16, 0.62),
            Instrument.Hat => (0.3, 0.08, 0.8),
            _ => (-0.12, 0.14, 0.9),
        };
        double hz = 440 * Math.Pow(2, (note.Pitch - 69) / 12);
        switch (note.Instrument)
        {
            case Instrument.Keys or Instrument.Plucked or Instrument.Bass or Instrument.Bells:
                Slot<DampedVoice> damped = Free(_damped, static v => v.Age);
                DampedTimbre struck = note.Instrument switch
                {
                    Instrument.Keys => DampedTimbre.Keys,
                    Instrument.Plucked => DampedTimbre.Plucked,
                    Instrument.Bass => DampedTimbre.Bass,
                    _ => DampedTimbre.Bells,
                };
                damped.Voice.Start(struck, hz, note.Strength, note.Frames, _rate, ref _random);
                damped.Place(from, pan, send, level);
                break;
            case Instrument.Bowed or Instrument.BowedPad or Instrument.Reed:
                Slot<SustainedVoice> sustained = Free(_sustained, static v => v.Age);
                SustainedTimbre blown = note.Instrument switch
                {
                    Instrument.Bowed => SustainedTimbre.Bowed,
                    Instrument.BowedPad => SustainedTimbre.Pad,
                    _ => SustainedTimbre.Reed,
                };
                sustained.Voice.Start(blown, hz, note.Strength, note.Frames, _rate, ref _random);
                sustained.Place(from, pan, send, level);
                break;
            default:
                Slot<DrumVoice> drum = Free(_drums, static v => v.Age);
                drum.Voice.Start(note.Instrument, note.Strength, _rate, ref _random);
                drum.Place(from, pan, send, level);
                break;
        }
    }

    /// <summary>A silent voice, or the one that has sounded longest.</summary>
    private static Slot<T> Free<T>(Slot<T>[] slots, Func<T, int> age)
    {
        Slot<T> oldest = slots[0];
        foreach (Slot<T> slot in slots)
        {
            if (!slot.IsOn)
            {
                return slot;
            }

            oldest = age(slot.Voice) > age(oldest.Voice) ? slot : oldest;
        }

        return oldest;
    }

    private void Mix<T>(Slot<T> slot, ReadOnlySpan<float> part)
    {
        int from = BlockFrames - part.Length;
        AddScaled(part, slot.Left, _left.AsSpan(from));
        AddScaled(part, slot.Right, _right.AsSpan(from));
        AddScaled(part, slot.Send, _send.AsSpan(from));
    }

    private static void AddScaled(ReadOnlySpan<float> part, float gain, Span<float> sum)
    {
        ref float source = ref MemoryMarshal.GetReference(part);
        ref float target = ref MemoryMarshal.GetReference(sum);
        for (nuint i = 0; i < (nuint)part.Length; i += Score.Grid)
        {
            (Vector256.LoadUnsafe(ref target, i) + (Vector256.LoadUnsafe(ref source, i) * gain)).StoreUnsafe(ref target, i);
        }
    }

    private void Fade()
    {
        double from = FadeAt(_frame);
        double to = FadeAt(_frame + BlockFrames);
        if (_mono)
        {
            for (int i = 0; i < BlockFrames; i++)
            {
                _left[i] = _right[i] = 0.5f * (_left[i] + _right[i]);
            }
        }

        if (from == 1 && to == 1)
        {
            return;
        }

        for (int i = 0; i < BlockFrames; i++)
        {
            float gain = (float)(from + ((to - from) * i / BlockFrames));
            _left[i] *= gain;
            _right[i] *= gain;
        }
    }

    private double FadeAt(long frame)
    {
        double seconds = (double)frame / _rate;
        double rise = _plan.FadeInSeconds > 0 ? Math.Clamp((seconds + 0.01) / (_plan.FadeInSeconds + 0.01), 0, 1) : 1;
        double taper = _plan.FadeOutSeconds > 0 ? _plan.FadeOutSeconds : TaperSeconds;
        double fall = Math.Clamp((_plan.Seconds - seconds) / taper, 0, 1);
        return rise * rise * fall * fall;
    }

    private sealed class Slot<T>(T voice)
    {
        private int _from;

        public T Voice { get; } = voice;

        public bool IsOn { get; set; }

        public float Left { get; private set; }

        public float Right { get; private set; }

        public float Send { get; private set; }

        public void Place(int from, double pan, double send, double level)
        {
            IsOn = true;
            _from = from;
            (double sin, double cos) = Math.SinCos(Math.PI / 4 * (pan + 1));
            Left = (float)(level * cos);
            Right = (float)(level * sin);
            Send = (float)(level * send);
        }

        /// <summary>First frame to render within the block, once; from then on 0.</summary>
        public int Begin()
        {
            int from = _from;
            _from = 0;
            return from;
        }
    }
}
