using System.Text;

namespace Station.Audio.Encoding;

/// <summary>The end of what a child process says, however much that is.</summary>
internal sealed class BoundedText
{
    /// <summary>Enough for the last messages of a codec, which come at the end; the rest is dropped.</summary>
    private const int KeptBytes = 4096;

    private readonly byte[] _ring = new byte[KeptBytes];
    private readonly Lock _lock = new();
    private long _total;

    /// <summary>Reads to the end of the stream. A pipe that breaks ends it too: the exit code tells the rest.</summary>
    public void Drain(Stream stream)
    {
        Span<byte> block = stackalloc byte[1024];
        try
        {
            for (int got = stream.Read(block); got > 0; got = stream.Read(block))
            {
                Add(block[..got]);
            }
        }
        catch (Exception e) when (e is IOException or ObjectDisposedException)
        {
            Add("(output lost)"u8);
        }
    }

    /// <summary>One line: line breaks become <c>; </c>, other control characters blanks.</summary>
    public string OneLine
    {
        get
        {
            byte[] kept;
            lock (_lock)
            {
                int count = (int)Math.Min(_total, KeptBytes);
                kept = new byte[count];
                for (int i = 0; i < count; i++)
                {
                    kept[i] = _ring[(_total - count + i) % KeptBytes];
                }
            }

            string[] lines = System.Text.Encoding.UTF8.GetString(kept)
                .Split(['\n', '\r', '\b'], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
            var text = new StringBuilder(string.Join("; ", lines));
            for (int i = 0; i < text.Length; i++)
            {
                if (char.IsControl(text[i]))
                {
                    text[i] = ' ';
                }
            }

            return text.ToString();
        }
    }

    private void Add(ReadOnlySpan<byte> bytes)
    {
        lock (_lock)
        {
            foreach (byte b in bytes)
            {
                _ring[_total++ % KeptBytes] = b;
            }
        }
    }
}
