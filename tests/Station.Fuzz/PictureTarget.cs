using Station.Daemon.Records;

namespace Station.Fuzz;

/// <summary>Reads the size of a sleeve picture: whatever the bytes, at least one pixel or a fault.</summary>
internal static class PictureTarget
{
    public static void Run(byte[] input)
    {
        (PictureFile? picture, string? fault) = PictureFile.Read(input);
        if ((picture is null) == string.IsNullOrWhiteSpace(fault) || picture is { WidthPixels: < 1 } or { HeightPixels: < 1 })
        {
            throw new BrokenPromiseException($"{picture} and '{fault}'");
        }
    }
}
