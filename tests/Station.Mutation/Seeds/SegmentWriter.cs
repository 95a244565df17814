using System.Buffers.Binary;

namespace Station.Mutation.Seeds;

/// <summary>Writes a segment and remembers where its fields are.</summary>
internal sealed class SegmentWriter(bool bigEndian)
{
    private readonly List<byte> _bytes = [];
    private readonly List<Field> _fields = [];

    /// <summary>A four-character identifier.</summary>
    public SegmentWriter Id(string id) => Id(System.Text.Encoding.Latin1.GetBytes(id));

    /// <summary>An identifier of any length.</summary>
    public SegmentWriter Id(ReadOnlySpan<byte> id)
    {
        _fields.Add(new(_bytes.Count, id.Length, bigEndian, FieldKind.Identifier));
        _bytes.AddRange(id);
        return this;
    }

    /// <summary>A length or count.</summary>
    public SegmentWriter Size(ulong value, int width) => Whole(value, width, FieldKind.Size);

    /// <summary>Any other number.</summary>
    public SegmentWriter Number(ulong value, int width) => Whole(value, width, FieldKind.Number);

    /// <summary>Bytes without a field of their own.</summary>
    public SegmentWriter Raw(ReadOnlySpan<byte> bytes)
    {
        _bytes.AddRange(bytes);
        return this;
    }

    /// <summary>Another segment's bytes and fields.</summary>
    public SegmentWriter Append(Segment segment)
    {
        int start = _bytes.Count;
        _fields.AddRange(segment.Fields.Select(f => f with { Offset = f.Offset + start }));
        _bytes.AddRange(segment.Bytes);
        return this;
    }

    /// <summary>Zeros up to a multiple of <paramref name="multiple"/> bytes.</summary>
    public SegmentWriter PadTo(int multiple)
    {
        while (_bytes.Count % multiple != 0)
        {
            _bytes.Add(0);
        }

        return this;
    }

    public Segment Done() => new([.. _bytes], [.. _fields]);

    private SegmentWriter Whole(ulong value, int width, FieldKind kind)
    {
        _fields.Add(new(_bytes.Count, width, bigEndian, kind));
        Span<byte> bytes = stackalloc byte[8];
        if (bigEndian)
        {
            BinaryPrimitives.WriteUInt64BigEndian(bytes, value);
            _bytes.AddRange(bytes[(8 - width)..]);
        }
        else
        {
            BinaryPrimitives.WriteUInt64LittleEndian(bytes, value);
            _bytes.AddRange(bytes[..width]);
        }

        return this;
    }
}
