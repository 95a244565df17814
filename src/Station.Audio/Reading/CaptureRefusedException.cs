namespace Station.Audio.Reading;

/// <summary>A capture turned out to be unreadable after its header had been accepted: its own content contradicts it.</summary>
/// <remarks>Trying again does not help. Failures of the disk are <see cref="IOException"/>.</remarks>
public sealed class CaptureRefusedException : Exception
{
    /// <summary>Wraps the refusal; the message is its one line.</summary>
    public CaptureRefusedException(CaptureRefusal refusal, Exception? innerException = null)
        : base(refusal?.OneLine, innerException)
    {
        ArgumentNullException.ThrowIfNull(refusal);
        Refusal = refusal;
    }

    /// <summary>Why.</summary>
    public CaptureRefusal Refusal { get; }
}
