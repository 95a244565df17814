using System.Runtime.InteropServices;

namespace Station.Audio.Reading;

/// <summary>
/// One pass over the bytes that finds every place where a frame may begin and links those between which the CRC-16 comes out right.
/// Each byte is looked at once, whatever stands there.
/// </summary>
internal sealed class FlacSyncScan
{
    private readonly FlacWindow _window;
    private readonly List<FlacSyncPoint> _points = [];
    private readonly long[] _lastOfKey = new long[1 << 16];
    private readonly long _origin;
    private long _front;
    private ushort _crc;       // of everything from _origin to _crcAt
    private long _crcAt;
    private int _head;         // forgotten points at the front of the list
    private long _forgotten;   // and in all
    private bool _ended;

    /// <param name="start">Where to begin; the window must stand there.</param>
    public FlacSyncScan(FlacWindow window, long start)
    {
        _window = window;
        (_origin, _front, _crcAt) = (start, start, start);
        Array.Fill(_lastOfKey, -1);
    }

    /// <summary>Number of the first point that is not known yet.</summary>
    public long Count => _forgotten + _points.Count - _head;

    /// <summary>A point by its number.</summary>
    public FlacSyncPoint this[long number] => _points[(int)(number - _forgotten) + _head];

    /// <summary>Looks for the next point.</summary>
    /// <param name="limit">The last offset at which one is wanted.</param>
    /// <returns>False when there is none up to there.</returns>
    public bool Discover(long limit)
    {
        while (!_ended && _front <= limit)
        {
            // A header is judged with all the bytes it may have, so that the result does not depend on where a read ended.
            while (_window.End - _front < FlacFrameHeader.MaxBytes && _window.End < _window.Length)
            {
                Retain();
                _window.Extend();
            }

            ReadOnlySpan<byte> bytes = _window.From(_front);
            if (_window.End == _window.Length && bytes.Length < FlacFrameHeader.MinBytes)
            {
                _ended = true;
                return Add(_window.Length, default);
            }

            bool last = _window.End == _window.Length;
            int usable = last ? bytes.Length - FlacFrameHeader.MinBytes + 1 : bytes.Length - FlacFrameHeader.MaxBytes + 1;
            int at = bytes[..usable].IndexOf((byte)0xFF);
            if (at < 0)
            {
                _front += usable;
                continue;
            }

            _front += at + 1;
            if (FlacFrameHeader.TryParse(bytes[at..], out FlacFrameHeader header))
            {
                return Add(_front - 1, header);
            }
        }

        return false;
    }

    /// <summary>Forgets the points in front of one, and the bytes in front of what is left.</summary>
    public void Forget(long number)
    {
        _head += (int)(number - _forgotten);
        _forgotten = number;
        if (_head > 1024 && _head > _points.Count / 2)
        {
            _points.RemoveRange(0, _head);
            _head = 0;
        }

        Retain();
    }

    private void Retain()
    {
        AdvanceCrc(_front); // every later point lies at or behind it
        _window.Drop(_head < _points.Count ? _points[_head].Offset : _front);
    }

    private void AdvanceCrc(long to)
    {
        if (to > _crcAt)
        {
            _crc = FlacCrc.Frame(_crc, _window.Slice(_crcAt, to));
            _crcAt = to;
        }
    }

    private bool Add(long offset, in FlacFrameHeader header)
    {
        AdvanceCrc(offset);
        ushort key = FlacCrc.Key(_crc, offset - _origin);
        long number = Count;
        long before = _lastOfKey[key];
        if (before >= _forgotten)
        {
            CollectionsMarshal.AsSpan(_points)[(int)(before - _forgotten) + _head] = this[before] with { Next = number };
        }

        _lastOfKey[key] = number;
        _points.Add(new(offset, header, key, -1));
        return true;
    }
}
