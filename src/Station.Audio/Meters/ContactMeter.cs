using System.Collections.Immutable;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Follows the level of both channels in slots of a millisecond and notes where one of them falls away from its own past.</summary>
/// <remarks>
/// <para>
/// Samples are averaged to about 11 kHz and high-passed at <see cref="LowestHz"/>: bass would hide a gap of a few milliseconds, and hiss above the groove's own
/// would hide that the groove is gone. What a fall means is the rule's to say: it knows the side's groove.
/// </para>
/// <para>The median of the past is held while the channel is down, so that a long gap is held against the sound before it.</para>
/// </remarks>
public sealed class ContactMeter
{
    /// <summary>Most stretches kept.</summary>
    public const int MaxDrops = 4096;

    /// <summary>Corner of the high-pass, Hz (detection over 300 Hz: own experiment).</summary>
    public const double LowestHz = 300;

    /// <summary>A slot this far below the past's median is down, dB. The rule asks for more or for other evidence (own choice).</summary>
    public const double DownDb = 9;

    // A channel is up again when so many slots in a row are within this of the past.
    private const double UpDb = 6;
    private const double RiseDb = 16;                       // or so far above the level inside
    private const int UpSlots = 3;

    // A channel that is down already falls again when a slot is this far below what it was inside.
    private const double AgainDb = 12;
    private const int AgainSlots = 2;                       // noise does that once, not twice running

    // What fell so far and so steeply, and lies so far below the other channel, has fallen: what it does inside, as the rest that comes across grows weaker, is no second fall (own choice: notes die away
    // more slowly; in the bare groove of the run-out both are alike, and there the lift is the fall).
    private const double FallenDb = 30;
    private const int SteepSlots = 4;

    // Not kept: what falls by less, and what the other channel does too (it may fall, but by so much less), dB (own choices; the rule asks for more).
    private const double LeastDropDb = 10;
    private const double ShortDropDb = 18;
    private const int LongSlots = 8;
    private const double LongDownDb = 15;
    private const double AloneDb = 10;
    private const int PastSlots = 300;
    private const int LeastPastSlots = 100;
    private const int OtherSlots = 300;                     // how long the other channel must play on: later, the music may have changed
    private const int EdgeSlots = 12;                       // looked back over when a fall's steepness is measured
    private const double NegligibleState = 1e-30;
    private const int MaxSlotsInStep = 64;

    private readonly int _pieceFrames;
    private readonly int _slotPieces;
    private readonly BiquadCoefficients _highPass;
    private readonly Channel[] _channels;
    private readonly List<ContactDrop> _drops = [];
    private readonly byte[] _stepSlots = new byte[2 * MaxSlotsInStep];
    private int _frameInPiece;
    private int _pieceInSlot;
    private Vector128<double> _sum;
    private Vector128<double> _state1;
    private Vector128<double> _state2;
    private Vector128<double> _power;
    private long _frames;
    private int _slotsInStep;

    /// <summary>Sets the meter up for a stereo capture.</summary>
    /// <param name="sampleRateHz">8 000 to 384 000.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public ContactMeter(int sampleRateHz, int expectedSteps = 0)
    {
        _channels = [new(expectedSteps), new(expectedSteps)];
        _pieceFrames = Math.Max(1, (int)Math.Round(sampleRateHz / 11_025.0));
        double rate = (double)sampleRateHz / _pieceFrames;
        _slotPieces = Math.Max(1, (int)Math.Round(rate / 1000));
        double k = Math.Tan(Math.PI * LowestHz / rate);
        double a0 = 1 + (Math.Sqrt(2) * k) + (k * k);
        _highPass = new BiquadCoefficients(1 / a0, -2 / a0, 1 / a0, 2 * ((k * k) - 1) / a0, (1 - (Math.Sqrt(2) * k) + (k * k)) / a0);
    }

    private int SlotFrames => _pieceFrames * _slotPieces;

    /// <summary>Adds one step.</summary>
    /// <param name="samples">Interleaved stereo, finite.</param>
    public void Add(ReadOnlySpan<float> samples)
    {
        ReadOnlySpan<float> rest = samples;
        while (!rest.IsEmpty)
        {
            if (_frameInPiece == 0 && rest.Length / 2 >= _pieceFrames)
            {
                rest = rest[(2 * AddWholePieces(rest))..];
                continue;
            }

            int count = Math.Min(_pieceFrames - _frameInPiece, rest.Length / 2);
            _sum += Sum(rest[..(2 * count)]);
            rest = rest[(2 * count)..];
            _frameInPiece += count;
            if (_frameInPiece == _pieceFrames)
            {
                AddPiece();
            }
        }

        _frames += samples.Length / 2;
        _state1 = Flushed(_state1);
        _state2 = Flushed(_state2);
        AddStepLevels();
    }

    /// <summary>Ends the capture.</summary>
    public ContactReading Finish()
    {
        for (int channel = 0; channel < 2; channel++)
        {
            if (_channels[channel].Down)
            {
                Close(channel, endFrame: _frames, returnSlots: 0);
            }
        }

        return new ContactReading
        {
            Drops = [.. _drops],
            StepLevels = [.. _channels.Select(channel => channel.StepLevels.ToImmutableArray())],
        };
    }

    // Left in the first lane, right in the second.
    private static Vector128<double> Sum(ReadOnlySpan<float> samples)
    {
        Vector128<float> sum = Vector128<float>.Zero;
        foreach (Vector128<float> pair in MemoryMarshal.Cast<float, Vector128<float>>(samples))
        {
            sum += pair;
        }

        sum += Vector128.Shuffle(sum, Vector128.Create(2, 3, 0, 1));
        if ((samples.Length & 2) != 0)
        {
            sum += Vector128.Create(samples[^2], samples[^1], 0, 0);
        }

        return Vector128.WidenLower(sum);
    }

    // As many as there are, up to the end of the slot; how many frames that was.
    private int AddWholePieces(ReadOnlySpan<float> samples)
    {
        int pieces = Math.Min(_slotPieces - _pieceInSlot, samples.Length / 2 / _pieceFrames);
        for (int piece = 0; piece < pieces; piece++)
        {
            Filter(Sum(samples.Slice(2 * piece * _pieceFrames, 2 * _pieceFrames)));
        }

        EndPieces(pieces);
        return pieces * _pieceFrames;
    }

    private void AddPiece()
    {
        Filter(_sum);
        _sum = Vector128<double>.Zero;
        _frameInPiece = 0;
        EndPieces(1);
    }

    private void EndPieces(int pieces)
    {
        _pieceInSlot += pieces;
        if (_pieceInSlot == _slotPieces)
        {
            _pieceInSlot = 0;
            EndSlot();
        }
    }

    // Both channels at once.
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private void Filter(Vector128<double> sum)
    {
        Vector128<double> x = sum / _pieceFrames;
        Vector128<double> y = (_highPass.B0 * x) + _state1;
        _state1 = (_highPass.B1 * x) + _state2 - (_highPass.A1 * y);
        _state2 = (_highPass.B2 * x) - (_highPass.A2 * y);
        _power += y * y;
    }

    private static Vector128<double> Flushed(Vector128<double> state) =>
        Vector128.ConditionalSelect(Vector128.GreaterThan(Vector128.Abs(state), Vector128.Create(NegligibleState)), state, Vector128<double>.Zero);

    private void EndSlot()
    {
        for (int i = 0; i < 2; i++)
        {
            Channel channel = _channels[i];
            channel.SlotPower = _power[i] / _slotPieces;
            channel.SlotDb = channel.SlotPower > 1e-25 ? (float)(10 * Math.Log10(channel.SlotPower)) : -250;
            if (_slotsInStep < MaxSlotsInStep)
            {
                _stepSlots[(MaxSlotsInStep * i) + _slotsInStep] = Level(channel.SlotDb);
            }
        }

        _power = Vector128<double>.Zero;
        _slotsInStep = Math.Min(MaxSlotsInStep, _slotsInStep + 1);
        for (int i = 0; i < 2; i++)
        {
            Follow(i, _channels[i], _channels[1 - i]);
        }

        foreach (Channel channel in _channels)
        {
            channel.Recent[channel.Slots++ % EdgeSlots] = channel.SlotDb;
        }
    }

    private void Follow(int index, Channel channel, Channel other)
    {
        if (!channel.Down)
        {
            if (channel.Past.Count >= LeastPastSlots && channel.SlotDb < channel.Past.MedianDb - DownDb)
            {
                channel.Open(other);
                channel.FirstSlot = channel.Slots;
                channel.FallSlots = FallSlots(channel, channel.BeforeDb - UpDb);
            }
            else
            {
                channel.Past.Add(Level(channel.SlotDb));
                return;
            }
        }

        double inside = channel.Inside.Count > 0 ? channel.Inside.MedianDb : -channel.Held;
        bool fallen = channel.FallSlots <= SteepSlots && channel.Inside.Count >= EdgeSlots && inside <= channel.BeforeDb - FallenDb
            && inside <= channel.OtherInside.MedianDb - AloneDb;
        channel.AgainCount = channel.HeldSlots > 0 && !fallen && channel.SlotDb < inside - AgainDb ? channel.AgainCount + 1 : 0;
        if (channel.AgainCount == (channel.Inside.Count > 0 ? AgainSlots : 1))
        {
            // A dip of the music just before, or a note that died away, must not hide the fall itself.
            long first = channel.Slots + 1 - channel.AgainCount;
            if (first - channel.FirstSlot > EdgeSlots / 2)
            {
                channel.FallSlots = FallSlots(channel, inside - UpDb);
                channel.FirstSlot = first;
            }

            if (channel.Inside.Count >= LeastPastSlots)
            {
                channel.BeforeDb = inside;
            }

            channel.Restart();
        }

        if (channel.SlotDb >= channel.BeforeDb - UpDb || (channel.Inside.Count > 0 && channel.SlotDb >= channel.Inside.MedianDb + RiseDb))
        {
            channel.WaitingOther[channel.UpCount] = Level(other.SlotDb);
            if (++channel.UpCount == UpSlots)
            {
                Close(index, (channel.Slots + 1 - UpSlots) * SlotFrames, channel.RiseSlots);
                channel.Past.Add(Level(channel.SlotDb));
            }

            return;
        }

        if (channel.UpCount > 0)
        {
            foreach (byte level in channel.WaitingOther.AsSpan(0, channel.UpCount))
            {
                channel.AddOther(level);
            }

            channel.UpCount = 0;
        }

        channel.RiseSlots = channel.SlotDb < channel.BeforeDb - DownDb - UpDb ? 1 : channel.RiseSlots + 1;

        // The newest slot waits: the last one inside is partly outside, as the first one is.
        if (channel.HeldSlots > 1)
        {
            channel.Inside.Add(channel.Held);
        }

        channel.Held = Level(channel.SlotDb);
        channel.HeldSlots++;
        channel.AddOther(Level(other.SlotDb));

        // Music that became quieter, and not a gap in it: from here on this is the past.
        if (channel.HeldSlots % PastSlots == 0
            && (channel.Inside.MedianDb > channel.BeforeDb - LongDownDb || !channel.FellAlone))
        {
            channel.Down = false;
            channel.Past.CopyFrom(channel.Inside);
        }
    }

    // How many slots the level took from a height down to here.
    private static int FallSlots(Channel channel, double fromDb)
    {
        for (int back = 1; back <= EdgeSlots && back <= channel.Slots; back++)
        {
            if (channel.Recent[(channel.Slots - back) % EdgeSlots] >= fromDb)
            {
                return back;
            }
        }

        return EdgeSlots + 1;
    }

    private void Close(int index, long endFrame, int returnSlots)
    {
        Channel channel = _channels[index];
        channel.Down = false;
        if (channel.Inside.Count > 0
            && channel.Inside.MedianDb <= channel.BeforeDb - (channel.Inside.Count < LongSlots ? ShortDropDb : LeastDropDb)
            && channel.FellAlone
            && _drops.Count < MaxDrops)
        {
            _drops.Add(new ContactDrop(
                index,
                channel.FirstSlot * SlotFrames,
                endFrame,
                channel.BeforeDb,
                channel.Inside.MedianDb,
                channel.OtherBeforeDb,
                channel.OtherInside.MedianDb,
                channel.FallSlots,
                returnSlots));
        }
    }

    private void AddStepLevels()
    {
        int slots = _slotsInStep;
        _slotsInStep = 0;
        for (int i = 0; i < 2; i++)
        {
            ReadOnlySpan<byte> levels = _stepSlots.AsSpan(MaxSlotsInStep * i, slots);
            _channels[i].StepLevels.Add(slots == 0 ? byte.MaxValue : RankSelection.Of(levels, slots / 2));
        }
    }

    // Whole decibels below full scale.
    private static byte Level(double db) => (byte)Math.Clamp(Math.Round(-db), 0, byte.MaxValue);

    private sealed class Channel(int expectedSteps)
    {
        private int _others;

        public double SlotPower;
        public float SlotDb;
        public long Slots;
        public bool Down;
        public long FirstSlot;
        public double BeforeDb;
        public double OtherBeforeDb;
        public int FallSlots;
        public int RiseSlots;
        public int UpCount;
        public int AgainCount;
        public int HeldSlots;
        public byte Held;

        public PastLevels Past { get; } = new(PastSlots);

        public PastLevels Inside { get; } = new(PastSlots);

        public PastLevels OtherInside { get; } = new(PastSlots);

        public byte[] WaitingOther { get; } = new byte[UpSlots];

        public float[] Recent { get; } = new float[EdgeSlots];

        public List<byte> StepLevels { get; } = new(expectedSteps);

        public bool FellAlone => BeforeDb - Inside.MedianDb >= OtherBeforeDb - OtherInside.MedianDb + AloneDb;

        public void AddOther(byte level)
        {
            if (_others < OtherSlots)
            {
                OtherInside.Add(level);
                _others++;
            }
        }

        public void Open(Channel other)
        {
            Down = true;
            BeforeDb = Past.MedianDb;
            OtherBeforeDb = other.Down ? other.BeforeDb : other.Past.MedianDb;
            Restart();
        }

        public void Restart()
        {
            UpCount = 0;
            AgainCount = 0;
            HeldSlots = 0;
            RiseSlots = 0;
            Inside.Clear();
            OtherInside.Clear();
            _others = 0;
        }
    }
}
