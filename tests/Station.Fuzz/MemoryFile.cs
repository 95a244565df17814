using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Station.Fuzz;

/// <summary>A file that is nowhere but in memory (memfd_create(2)), written anew for every input.</summary>
internal sealed partial class MemoryFile : IDisposable
{
    public MemoryFile()
    {
        int descriptor = MemfdCreate("station-fuzz", 0);
        if (descriptor < 0)
        {
            throw new IOException(FormattableString.Invariant($"memfd_create failed with errno {Marshal.GetLastPInvokeError()}"));
        }

        Handle = new SafeFileHandle(descriptor, ownsHandle: true);
    }

    public SafeFileHandle Handle { get; }

    public void Fill(ReadOnlySpan<byte> content)
    {
        RandomAccess.SetLength(Handle, content.Length);
        RandomAccess.Write(Handle, content, 0);
    }

    public void Dispose() => Handle.Dispose();

    [LibraryImport("libc", EntryPoint = "memfd_create", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int MemfdCreate(string name, uint flags);
}
