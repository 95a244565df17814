namespace Station.Audio.Synthesis;

/// <summary>
/// Composes a track bar by bar out of its seed: a key, two eight-bar chord progressions in the order A A B A, a two-bar motif for
/// each that follows the chords, phrases that swell and ebb, layers that come and go, and a closing chord (or a fade).
/// </summary>
internal sealed class Score
{
    private const int PhraseBars = 8;

    /// <summary>Notes begin on multiples of this: the width of the vectors the voices are rendered in.</summary>
    public const int Grid = 8;

    // Semitones above the key note: major, dorian, mixolydian, natural minor.
    private static readonly int[][] Scales = [[0, 2, 4, 5, 7, 9, 11], [0, 2, 3, 5, 7, 9, 10], [0, 2, 4, 5, 7, 9, 10], [0, 2, 3, 5, 7, 8, 10]];

    // Beats of one bar, in fours and in threes.
    private static readonly double[][] Fours = [[1, 1, 1, 1], [2, 1, 1], [1.5, 0.5, 1, 1], [0.5, 0.5, 1, 2], [3, 1], [1, 2, 1], [1, 0.5, 0.5, 2], [4]];
    private static readonly double[][] Threes = [[2, 1], [1, 1, 1], [1.5, 0.5, 1], [0.5, 0.5, 1, 1], [1, 2], [3]];

    // Where a chord may go next, by scale degree.
    private static readonly int[][] Moves = [[3, 5, 4, 1, 2], [4, 3, 6], [5, 3], [4, 0, 1, 5], [0, 5, 3], [3, 1, 4], [0, 4]];

    private static readonly int[] SectionOrder = [0, 0, 1, 0];
    private static readonly int[] WalkingSteps = [2, 4, 5];

    private readonly int[][] _chords = [new int[PhraseBars], new int[PhraseBars]];
    private readonly MotifNote[][] _motifs = [new MotifNote[16], new MotifNote[16]];
    private readonly int[] _motifNotes = new int[2];
    private TrackPlan _plan = new() { Seconds = 4 };
    private SeededRandom _random;
    private int[] _scale = Scales[0];
    private double _rate, _barFrames, _beatFrames;
    private int _beats, _key, _bar, _bars;
    private double _tuning;
    private bool _closed;

    /// <summary>Begins a track anew.</summary>
    public void Start(TrackPlan plan, int seed, int track, int sampleRateHz)
    {
        _plan = plan;
        _rate = sampleRateHz;
        _random = new SeededRandom(seed, RandomStream.Score, track);
        _bar = 0;
        _closed = false;
        _key = _random.Below(12);
        _scale = Scales[_random.Below(Scales.Length)];
        _tuning = _random.Between(-0.08, 0.08);
        (double slow, double quick, double threes) = plan.Character switch
        {
            TrackCharacter.Chamber => (84.0, 104.0, 0.6),
            TrackCharacter.Ballad => (62, 74, 0.3),
            TrackCharacter.Lively => (116, 144, 0.1),
            TrackCharacter.Solo => (66, 84, 0.5),
            _ => (54, 64, 0.2),
        };
        double tempo = _random.Between(slow, quick);
        _beats = _random.Chance(threes) ? 3 : 4;
        double bar = _beats * 60 / tempo;
        if (plan.FadeOutSeconds > 0)
        {
            _bars = int.MaxValue;
        }
        else
        {
            // The tempo gives a little, so that a whole number of bars ends where the closing chord must begin to die away in time.
            double playing = plan.Seconds - Closing;
            _bars = Math.Max(1, (int)Math.Round(playing / bar));
            bar = playing / _bars;
        }

        _barFrames = bar * _rate;
        _beatFrames = _barFrames / _beats;
        for (int section = 0; section < 2; section++)
        {
            WriteChords(_chords[section], section);
            WriteMotif(section);
        }
    }

    /// <summary>Writes the notes of the next bar; false when the piece is over.</summary>
    public bool NextBar(List<NoteEvent> notes)
    {
        notes.Clear();
        double start = _bar * _barFrames;
        if (_closed || start >= _plan.Seconds * _rate)
        {
            return false;
        }

        if (_bar == _bars)
        {
            WriteClosing(notes, start);
            _closed = true;
        }
        else
        {
            WriteBar(notes, start);
        }

        if (_bar == 0)
        {
            AnchorFirstNote(notes);
        }

        LeavePause(notes);
        _bar++;
        return true;
    }

    private double Closing => Math.Clamp(0.22 * _plan.Seconds, 2, 6);

    private void WriteChords(int[] chords, int section)
    {
        chords[0] = section == 0 ? 0 : (_random.Chance(0.5) ? 3 : 5);
        for (int i = 1; i < PhraseBars - 2; i++)
        {
            int[] moves = Moves[chords[i - 1]];
            chords[i] = i == 4 && section == 0 ? 0 : moves[_random.Below(moves.Length)];
        }

        chords[PhraseBars - 2] = 4;
        chords[PhraseBars - 1] = section == 0 ? 0 : 4;
    }

    private void WriteMotif(int section)
    {
        double[][] cells = _beats == 4 ? Fours : Threes;
        int count = 0;
        int step = 2 * _random.Below(3);
        for (int half = 0; half < 2; half++)
        {
            double beat = half * _beats;
            foreach (double length in cells[_random.Below(cells.Length)])
            {
                bool rests = count > 0 && _random.Chance(0.12);
                if (!rests)
                {
                    _motifs[section][count++] = new MotifNote(beat, length, step);
                }

                step += _random.Below(5) - 2;
                step = Math.Clamp(step, -3, 8);
                beat += length;
            }
        }

        _motifNotes[section] = count;
    }

    private void WriteBar(List<NoteEvent> notes, double start)
    {
        int phrase = _bar / PhraseBars;
        int section = SectionOrder[phrase % SectionOrder.Length];
        int inPhrase = _bar % PhraseBars;
        int chord = _chords[section][inPhrase];
        double through = Math.Min(1, start / (_plan.Seconds * _rate));
        bool intro = start < _plan.QuietIntroSeconds * _rate;
        double arc = 0.74 + (0.26 * Math.Sin(Math.PI * (inPhrase + 0.5) / PhraseBars));
        double section0 = section == 1 ? 1.0 : phrase == 0 ? 0.86 : 0.93;
        double dynamics = _plan.Character == TrackCharacter.Swell
            ? 0.22 + (0.78 * Math.Pow(Math.Sin(Math.PI * Math.Min(1, 0.08 + (through * 0.92))), 1.2))
            : arc * section0;
        if (intro)
        {
            dynamics *= 0.16;
        }

        bool full = !intro && (_bar >= 2 || _bars < 6);
        switch (_plan.Character)
        {
            case TrackCharacter.Chamber:
                Broken(notes, start, chord, Instrument.Keys, 0.42 * dynamics);
                Pad(notes, start, chord, 0.34 * dynamics, 2);
                if (full)
                {
                    Melody(notes, start, chord, section, phrase % 2 == 0 ? Instrument.Bowed : Instrument.Reed, 0.8 * dynamics, 0);
                    BassLine(notes, start, chord, 0.7 * dynamics, 2);
                }

                break;
            case TrackCharacter.Ballad:
                Block(notes, start, chord, Instrument.Keys, 0.5 * dynamics);
                if (full)
                {
                    Melody(notes, start, chord, section, section == 0 ? Instrument.Reed : Instrument.Keys, 0.8 * dynamics, 0);
                    Brushes(notes, start, 0.5 * dynamics);
                }

                if (!intro)
                {
                    BassLine(notes, start, chord, 0.7 * dynamics, _beats);
                }

                break;
            case TrackCharacter.Lively:
                Offbeats(notes, start, chord, 0.55 * dynamics);
                BassLine(notes, start, chord, 0.75 * dynamics, 1);
                if (!intro)
                {
                    Drums(notes, start, 0.7 * dynamics, inPhrase == PhraseBars - 1);
                }

                if (full)
                {
                    Melody(notes, start, chord, section, section == 0 ? Instrument.Keys : Instrument.Reed, 0.85 * dynamics, 0);
                    if (phrase > 0)
                    {
                        Melody(notes, start, chord, section, Instrument.Bowed, 0.45 * dynamics, -7);
                    }
                }

                break;
            case TrackCharacter.Solo:
                LeftHand(notes, start, chord, 0.5 * dynamics);
                Melody(notes, start, chord, section, Instrument.Keys, 0.8 * dynamics, 0);
                break;
            default:
                Pad(notes, start, chord, 0.75 * dynamics, 3);
                if (!intro)
                {
                    BassLine(notes, start, chord, 0.45 * dynamics, _beats);
                    if (_random.Chance(0.75))
                    {
                        Melody(notes, start, chord, section, Instrument.Bells, 0.6 * dynamics, 7);
                    }
                }

                break;
        }
    }

    private void WriteClosing(List<NoteEvent> notes, double start)
    {
        double hold = 0.6 * Closing * _rate / _beatFrames;
        Add(notes, start, Instrument.Bass, Pitch(-14), 0.6, hold, 0);
        bool sustained = _plan.Character is TrackCharacter.Chamber or TrackCharacter.Swell;
        for (int i = 0; i < 4; i++)
        {
            int step = i switch { 0 => -7, 1 => 0, 2 => 2, _ => 4 };
            Add(notes, start + (_rate * 0.025 * i), sustained ? Instrument.BowedPad : Instrument.Keys, Pitch(step), 0.5, hold, 0);
        }

        Add(notes, start, _plan.Character == TrackCharacter.Lively ? Instrument.Plucked : Instrument.Keys, Pitch(7), 0.6, hold, 0);
        if (_plan.Character == TrackCharacter.Lively)
        {
            Add(notes, start, Instrument.Kick, 0, 0.7, 1, 0);
        }
    }

    private void Melody(List<NoteEvent> notes, double start, int chord, int section, Instrument instrument, double strength, int shift)
    {
        int half = _bar % 2;
        bool answers = _bar % 4 >= 2;
        for (int i = 0; i < _motifNotes[section]; i++)
        {
            MotifNote note = _motifs[section][i];
            double beat = note.Beat - (half * _beats);
            if (beat < 0 || beat >= _beats)
            {
                continue;
            }

            int step = note.Step + (answers ? 1 : 0) + (_random.Chance(0.1) ? _random.Below(3) - 1 : 0);
            step += chord > 3 ? chord - 7 : chord;
            if (beat % 2 == 0)
            {
                step = NearestChordStep(step, chord);
            }

            double accent = beat == 0 ? 1 : beat % 1 == 0 ? 0.9 : 0.78;
            Add(notes, start + (beat * _beatFrames), instrument, Pitch(step + shift) + 12, strength * accent, note.Beats * 0.93, 0.006);
        }
    }

    private void Broken(List<NoteEvent> notes, double start, int chord, Instrument instrument, double strength)
    {
        ReadOnlySpan<int> order = [0, 4, 7, 4, 2, 4, 7, 4];
        for (int i = 0; i < 2 * _beats; i++)
        {
            int step = Low(chord) + order[i % order.Length];
            Add(notes, start + (i * _beatFrames / 2), instrument, Pitch(step), strength * (i == 0 ? 1.1 : 0.85), 0.9, 0.005);
        }
    }

    private void Block(List<NoteEvent> notes, double start, int chord, Instrument instrument, double strength)
    {
        for (int i = 0; i < 3; i++)
        {
            Add(notes, start + (0.018 * i * _rate), instrument, Pitch(Low(chord) + (2 * i)), strength, _beats * 0.7, 0.004);
        }

        for (int beat = 1; beat < _beats; beat++)
        {
            Add(notes, start + (beat * _beatFrames), instrument, Pitch(Low(chord) + 2 + (2 * (beat % 3))), 0.7 * strength, 1.2, 0.006);
        }
    }

    private void Offbeats(List<NoteEvent> notes, double start, int chord, double strength)
    {
        for (int beat = 0; beat < _beats; beat++)
        {
            double at = start + ((beat + (beat == 0 ? 0 : 0.5)) * _beatFrames);
            for (int i = 0; i < 3; i++)
            {
                Add(notes, at + (0.006 * i * _rate), Instrument.Plucked, Pitch(Low(chord) + 2 + (2 * i)), strength * (beat % 2 == 1 ? 1 : 0.8), 0.42, 0.004);
            }
        }
    }

    private void LeftHand(List<NoteEvent> notes, double start, int chord, double strength)
    {
        Add(notes, start, Instrument.Keys, Pitch(Low(chord) - 7), strength, _beats, 0.004);
        Add(notes, start + _beatFrames, Instrument.Keys, Pitch(Low(chord) - 3), 0.75 * strength, _beats - 1, 0.008);
        if (_random.Chance(0.7))
        {
            Add(notes, start + (2 * _beatFrames), Instrument.Keys, Pitch(Low(chord) + 2), 0.7 * strength, _beats - 2, 0.008);
        }
    }

    private void Pad(List<NoteEvent> notes, double start, int chord, double strength, int voices)
    {
        for (int i = 0; i < voices; i++)
        {
            double pitch = Pitch(Low(chord) + (2 * i));
            Add(notes, start, Instrument.BowedPad, pitch - 0.035, strength, _beats * 0.98, 0);
            Add(notes, start, Instrument.BowedPad, pitch + 0.035, strength, _beats * 0.98, 0);
        }
    }

    private void BassLine(List<NoteEvent> notes, double start, int chord, double strength, int everyBeats)
    {
        for (int beat = 0; beat < _beats; beat += everyBeats)
        {
            int step = beat == 0 ? 0 : everyBeats == 1 ? WalkingSteps[_random.Below(WalkingSteps.Length)] : 4;
            double pitch = Pitch(Low(chord) + step) - 24;
            while (pitch < 28)
            {
                pitch += 12; // the lowest string, 41 Hz
            }

            Add(notes, start + (beat * _beatFrames), Instrument.Bass, pitch, strength * (beat == 0 ? 1 : 0.85), everyBeats * 0.9, 0.005);
        }
    }

    private void Drums(List<NoteEvent> notes, double start, double strength, bool fill)
    {
        for (int half = 0; half < 2 * _beats; half++)
        {
            double at = start + (half * _beatFrames / 2);
            bool onBeat = half % 2 == 0;
            int beat = half / 2;
            Add(notes, at, Instrument.Hat, 0, strength * (onBeat ? 0.75 : 0.5), 0.1, 0.003);
            if ((onBeat && beat % 2 == 0) || (!onBeat && beat == 2 && _random.Chance(0.4)))
            {
                Add(notes, at, Instrument.Kick, 0, strength, 0.1, 0.002);
            }

            if ((onBeat && beat % 2 == 1) || (fill && half >= (2 * _beats) - 3))
            {
                Add(notes, at, Instrument.Snare, 0, strength * (onBeat ? 0.9 : 0.6), 0.1, 0.003);
            }
        }
    }

    private void Brushes(List<NoteEvent> notes, double start, double strength)
    {
        for (int beat = 0; beat < _beats; beat++)
        {
            Add(notes, start + (beat * _beatFrames), Instrument.Brush, 0, strength * (beat % 2 == 1 ? 1 : 0.55), 0.1, 0.008);
        }
    }

    private void Add(List<NoteEvent> notes, double at, Instrument instrument, double pitch, double strength, double beats, double looseSeconds)
    {
        double loose = looseSeconds * _rate * (_random.Unit() - 0.3);
        long frame = (long)Math.Max(0, (at + loose) / Grid) * Grid;
        double strike = strength * _random.Between(0.88, 1.06);
        notes.Add(new NoteEvent(frame, instrument, pitch + _tuning, Math.Clamp(strike, 0, 1), (int)Math.Max(1, beats * _beatFrames)));
    }

    /// <summary>The truth says the music begins with the first note: nothing may delay it.</summary>
    private static void AnchorFirstNote(List<NoteEvent> notes)
    {
        int first = 0;
        for (int i = 1; i < notes.Count; i++)
        {
            first = notes[i].Frame < notes[first].Frame ? i : first;
        }

        notes[first] = notes[first] with { Frame = 0 };
    }

    private void LeavePause(List<NoteEvent> notes)
    {
        if (_plan.PauseSeconds <= 0)
        {
            return;
        }

        double from = _plan.PauseAtSeconds * _rate;
        double to = from + (_plan.PauseSeconds * _rate);
        for (int i = notes.Count - 1; i >= 0; i--)
        {
            NoteEvent note = notes[i];
            if (note.Frame >= from && note.Frame < to)
            {
                notes.RemoveAt(i);
            }
            else if (note.Frame < from && note.Frame + note.Frames > from)
            {
                notes[i] = note with { Frames = (int)Math.Max(1, from - note.Frame) };
            }
        }
    }

    /// <summary>A chord's root kept in the middle register.</summary>
    private static int Low(int chord) => chord > 3 ? chord - 7 : chord;

    private double Pitch(int step)
    {
        int octave = (int)Math.Floor(step / 7.0);

        // Key notes from F sharp below middle C to F above it, so that every key lies in the same register.
        int root = 60 + (_key > 5 ? _key - 12 : _key);
        return root + (12 * octave) + _scale[step - (7 * octave)];
    }

    private static int NearestChordStep(int step, int chord)
    {
        for (int away = 0; away < 4; away++)
        {
            if (InChord(step - away, chord))
            {
                return step - away;
            }

            if (InChord(step + away, chord))
            {
                return step + away;
            }
        }

        return step;
    }

    private static bool InChord(int step, int chord) => ((((step - chord) % 7) + 7) % 7) is 0 or 2 or 4;

    private readonly record struct MotifNote(double Beat, double Beats, int Step);
}
