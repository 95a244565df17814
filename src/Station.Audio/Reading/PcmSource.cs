using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>The file a walk looks at.</summary>
/// <param name="File">Open for reading.</param>
/// <param name="Bytes">Its length when it was opened: what every stated length is compared with.</param>
/// <param name="Name">For messages.</param>
/// <param name="Limits">For rate and duration.</param>
internal sealed record PcmSource(SafeFileHandle File, long Bytes, string Name, ReaderLimits Limits);
