using System.Collections.Immutable;

namespace Station.Audio.Synthesis;

/// <summary>
/// A capture that holds several sides one behind the other, as a recorder left running while the disc is turned leaves it: the post-roll
/// of a side and the pre-roll of the next are one stretch with the stylus in the air. It can also be cut into parts.
/// </summary>
public sealed class SynthesisedCapture
{
    /// <summary>Prepares a capture.</summary>
    /// <param name="plans">The sides in order, of one rate and depth; at least one.</param>
    /// <exception cref="ArgumentException">The plans do not go together, or one cannot be made into a side.</exception>
    public SynthesisedCapture(params ReadOnlySpan<SidePlan> plans)
    {
        if (plans.IsEmpty)
        {
            throw new ArgumentException("At least one side is needed.", nameof(plans));
        }

        ImmutableArray<SynthesisedSide>.Builder sides = ImmutableArray.CreateBuilder<SynthesisedSide>(plans.Length);
        ImmutableArray<long>.Builder first = ImmutableArray.CreateBuilder<long>(plans.Length);
        foreach (SidePlan plan in plans)
        {
            if (plan.SampleRateHz != plans[0].SampleRateHz || plan.BitsPerSample != plans[0].BitsPerSample)
            {
                throw new ArgumentException("Sides of one capture share rate and depth.", nameof(plans));
            }

            first.Add(Frames);
            sides.Add(new SynthesisedSide(plan));
            Frames += sides[^1].Truth.Frames;
        }

        Sides = sides.MoveToImmutable();
        FirstFrames = first.MoveToImmutable();
    }

    /// <summary>The sides, each with its own truth; frames there count from the side's own start.</summary>
    public ImmutableArray<SynthesisedSide> Sides { get; }

    /// <summary>The capture's frame where each side's plan begins.</summary>
    public ImmutableArray<long> FirstFrames { get; }

    /// <summary>Frames of the whole capture.</summary>
    public long Frames { get; }

    /// <summary>Writes the capture as a WAV file. The stream need not seek.</summary>
    /// <exception cref="IOException">The stream refused a write.</exception>
    public void WriteWav(Stream output) => WriteWav(output, 0, Frames);

    /// <summary>Writes a piece of the capture as a WAV file of its own: what a recorder that was stopped and started again leaves.</summary>
    /// <param name="output">Need not seek.</param>
    /// <param name="firstFrame">First frame of the piece.</param>
    /// <param name="endFrame">The frame after its last, at most <see cref="Frames"/>.</param>
    /// <exception cref="IOException">The stream refused a write.</exception>
    public void WriteWav(Stream output, long firstFrame, long endFrame)
    {
        ArgumentNullException.ThrowIfNull(output);
        ArgumentOutOfRangeException.ThrowIfNegative(firstFrame);
        ArgumentOutOfRangeException.ThrowIfLessThan(endFrame, firstFrame);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(endFrame, Frames);
        SidePlan plan = Sides[0].Plan;
        output.Write(WavHeader.For(endFrame - firstFrame, plan.SampleRateHz, plan.BitsPerSample));
        int bytesPerFrame = 2 * plan.BitsPerSample / 8;
        using var piece = new RangeStream(output, firstFrame * bytesPerFrame, endFrame * bytesPerFrame);
        foreach (SynthesisedSide side in Sides)
        {
            side.WriteWords(piece);
        }
    }

    /// <summary>Hands on the bytes of a range and drops the rest.</summary>
    private sealed class RangeStream(Stream inner, long first, long end) : Stream
    {
        private long _position;

        public override bool CanRead => false;

        public override bool CanSeek => false;

        public override bool CanWrite => true;

        public override long Length => throw new NotSupportedException();

        public override long Position
        {
            get => _position;
            set => throw new NotSupportedException();
        }

        public override void Write(ReadOnlySpan<byte> buffer)
        {
            long from = Math.Clamp(first - _position, 0, buffer.Length);
            long to = Math.Clamp(end - _position, 0, buffer.Length);
            if (from < to)
            {
                inner.Write(buffer[(int)from..(int)to]);
            }

            _position += buffer.Length;
        }

        public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

        public override void Flush() => inner.Flush();

        public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

        public override void SetLength(long value) => throw new NotSupportedException();
    }
}
