using System.Runtime.InteropServices;

namespace Station.Reference;

/// <summary>
/// Loudness by libebur128 1.2.6 (Debian package libebur128-1), a general-purpose library under the MIT licence, called through its public
/// header: what our own meters are compared with, never what they are made from.
/// </summary>
internal sealed partial class ReferenceLoudness : IDisposable
{
    // EBUR128_MODE_I | EBUR128_MODE_LRA | EBUR128_MODE_TRUE_PEAK with what they include, ebur128.h.
    private const int Modes = (1 << 0) | (1 << 1) | (1 << 2) | (1 << 3) | (1 << 4) | (1 << 5);

    private readonly int _channels;
    private nint _state;

    public ReferenceLoudness(int channels, int rateHz)
    {
        _channels = channels;
        _state = Start((uint)channels, (nuint)rateHz, Modes);
        if (_state == 0)
        {
            throw new InvalidOperationException($"libebur128 refuses {channels} channels at {rateHz} Hz.");
        }
    }

    /// <summary>LUFS.</summary>
    public double Integrated => Check(Global(_state, out double lufs), lufs);

    /// <summary>LU.</summary>
    public double Range => Check(RangeOf(_state, out double lu), lu);

    public void Add(ReadOnlySpan<float> interleaved) => Check(Frames(_state, in MemoryMarshal.GetReference(interleaved), (nuint)(interleaved.Length / _channels)), 0);

    /// <summary>Linear; full scale is 1.</summary>
    public double TruePeak(int channel) => Check(TruePeakOf(_state, (uint)channel, out double peak), peak);

    public void Dispose()
    {
        if (_state != 0)
        {
            End(ref _state);
        }
    }

    private static double Check(int error, double value) => error == 0 ? value : throw new InvalidOperationException($"libebur128: error {error}.");

    [LibraryImport("libebur128.so.1", EntryPoint = "ebur128_init")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial nint Start(uint channels, nuint rateHz, int modes);

    [LibraryImport("libebur128.so.1", EntryPoint = "ebur128_destroy")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial void End(ref nint state);

    [LibraryImport("libebur128.so.1", EntryPoint = "ebur128_add_frames_float")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial int Frames(nint state, in float first, nuint frames);

    [LibraryImport("libebur128.so.1", EntryPoint = "ebur128_loudness_global")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial int Global(nint state, out double lufs);

    [LibraryImport("libebur128.so.1", EntryPoint = "ebur128_loudness_range")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial int RangeOf(nint state, out double lu);

    [LibraryImport("libebur128.so.1", EntryPoint = "ebur128_true_peak")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial int TruePeakOf(nint state, uint channel, out double peak);
}
