namespace Station.Audio.Reading;

/// <summary>Why a file cannot be taken. None of them passes by trying again.</summary>
public enum RefusalKind
{
    /// <summary>The file contradicts itself or is incomplete beyond what can be assumed.</summary>
    BadInput,

    /// <summary>A sound file that is specified somewhere but not read here.</summary>
    Unsupported,

    /// <summary>Beyond a configured limit of <see cref="ReaderLimits"/>.</summary>
    LimitReached,
}
