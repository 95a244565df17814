namespace Station.Audio.Reading;

/// <summary>What every container must state alike.</summary>
internal static class FormatRules
{
    /// <summary>Checks rate, channels and duration.</summary>
    /// <param name="frames">Frames that would be read; 0 when unknown.</param>
    /// <returns>Null when all is well.</returns>
    public static CaptureRefusal? Check(string name, long offset, long sampleRateHz, int channels, long frames, ReaderLimits limits)
    {
        if (sampleRateHz == 0)
        {
            return new(RefusalKind.BadInput, name, offset, "a sample rate", "0 Hz", "The header is damaged: copy or record it again.");
        }

        if (sampleRateHz < limits.MinSampleRateHz || sampleRateHz > limits.MaxSampleRateHz)
        {
            return new(
                RefusalKind.LimitReached,
                name,
                offset,
                FormattableString.Invariant($"{limits.MinSampleRateHz} to {limits.MaxSampleRateHz} Hz"),
                FormattableString.Invariant($"{sampleRateHz} Hz"),
                "Set the recorder to a usual rate, or change the limit.");
        }

        if (channels == 0)
        {
            return new(RefusalKind.BadInput, name, offset, "1 or 2 channels", "0 channels", "The header is damaged: copy or record it again.");
        }

        if (channels > 2)
        {
            return new(
                RefusalKind.Unsupported,
                name,
                offset,
                "1 or 2 channels",
                FormattableString.Invariant($"{channels} channels"),
                "Set the recorder to stereo, or save the two channels of the record alone.");
        }

        double seconds = (double)frames / sampleRateHz;
        return seconds > limits.MaxDurationSeconds
            ? new(
                RefusalKind.LimitReached,
                name,
                offset,
                FormattableString.Invariant($"at most {limits.MaxDurationSeconds} s of sound"),
                FormattableString.Invariant($"{seconds:0.0} s"),
                "Raise the limit or divide the capture.")
            : null;
    }
}
