using Station.Archive.Durability;

namespace Station.Archive.Bags;

/// <summary>Tells failures that lie with a file from those that lie with the machine.</summary>
internal static class Readable
{
    /// <summary>
    /// True when the bag is to blame: the disk cannot give the bytes, permissions forbid it, or it went away. Out of handles or memory, a hung share: the check
    /// itself failed, and a bag must not be called bad for that.
    /// </summary>
    public static bool IsOfTheFile(PosixException e) => e.Errno is Errno.InputOutput or Errno.AccessDenied or Errno.NoPermission or Errno.NoEntry
        or Errno.NotDirectory or Errno.BadMessage or Errno.NeedsCleaning;

    /// <summary>An error of the class library, which keeps the system's error number in <see cref="Exception.HResult"/>, that means a damaged disk or file system.</summary>
    public static bool IsDamage(Exception e) => e is IOException && e.HResult is (Errno.InputOutput or Errno.BadMessage or Errno.NeedsCleaning);
}
