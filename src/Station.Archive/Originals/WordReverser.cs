using System.Buffers.Binary;
using System.Runtime.InteropServices;

namespace Station.Archive.Originals;

/// <summary>Reverses the bytes of each word of a stream that arrives in pieces of any length.</summary>
internal sealed class WordReverser
{
    private readonly byte[] _block = new byte[48 * 1024];
    private int _wordBytes;
    private int _heldAt;
    private int _held;

    /// <summary>Begins a new stream.</summary>
    /// <param name="wordBytes">2 to 8.</param>
    public void Begin(int wordBytes) => (_wordBytes, _heldAt, _held) = (wordBytes, 0, 0);

    /// <summary>Takes as much as fits into one block.</summary>
    /// <param name="bytes">The rest of what arrived; shortened by what was taken.</param>
    /// <returns>Whole words with their bytes reversed, valid until the next call; empty when all that is left is part of a word, which is kept.</returns>
    public ReadOnlySpan<byte> Take(ref ReadOnlySpan<byte> bytes)
    {
        _block.AsSpan(_heldAt, _held).CopyTo(_block);
        int capacity = _block.Length / _wordBytes * _wordBytes;
        int taken = Math.Min(bytes.Length, capacity - _held);
        bytes[..taken].CopyTo(_block.AsSpan(_held));
        bytes = bytes[taken..];
        int filled = _held + taken;
        _heldAt = filled / _wordBytes * _wordBytes;
        _held = filled - _heldAt;
        return Reverse(_heldAt);
    }

    private Span<byte> Reverse(int count)
    {
        Span<byte> words = _block.AsSpan(0, count);
        switch (_wordBytes)
        {
            case 2:
                Span<ushort> pairs = MemoryMarshal.Cast<byte, ushort>(words);
                BinaryPrimitives.ReverseEndianness(pairs, pairs);
                break;
            case 4:
                Span<uint> quads = MemoryMarshal.Cast<byte, uint>(words);
                BinaryPrimitives.ReverseEndianness(quads, quads);
                break;
            case 8:
                Span<ulong> octets = MemoryMarshal.Cast<byte, ulong>(words);
                BinaryPrimitives.ReverseEndianness(octets, octets);
                break;
            case 3:
                for (int i = 0; i < words.Length; i += 3)
                {
                    (words[i], words[i + 2]) = (words[i + 2], words[i]);
                }

                break;
            default:
                for (int i = 0; i < words.Length; i += _wordBytes)
                {
                    words.Slice(i, _wordBytes).Reverse();
                }

                break;
        }

        return words;
    }
}
