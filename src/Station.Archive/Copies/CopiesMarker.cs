using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;
using Station.Archive.Durability;

namespace Station.Archive.Copies;

/// <summary>
/// The file that tells a folder made to hold bags from the bare mount point of a disk that is not there: it lies on the disk itself, so nothing is ever written
/// below a folder without it.
/// </summary>
/// <param name="Version">1.</param>
/// <param name="Name">What the station's configuration calls the place.</param>
/// <param name="Id">Tells two disks with one name apart.</param>
/// <param name="PreparedAt">When the folder was prepared, UTC.</param>
public sealed record CopiesMarker(int Version, string Name, Guid Id, DateTimeOffset PreparedAt)
{
    /// <summary>Name of the file in the root of the place.</summary>
    public const string FileName = "station-copies.json";

    private const int KnownVersion = 1;

    /// <summary>A marker of ours has some hundred bytes; a longer file is something else.</summary>
    private const int MaxBytes = 4096;

    /// <summary>Reads the marker of a folder.</summary>
    /// <returns>Null when the folder, or the marker in it, is not there.</returns>
    /// <exception cref="InvalidDataException">A file with that name is no marker, or one of a later version.</exception>
    /// <exception cref="PosixException">It cannot be read.</exception>
    public static CopiesMarker? TryRead(string root)
    {
        string path = Path.Combine(root, FileName);
        if (PosixStat.TryLook(path) is null)
        {
            return null;
        }

        using Microsoft.Win32.SafeHandles.SafeFileHandle file = SafeOpen.OpenRegular(path, out FileIdentity identity);
        if (identity.Bytes > MaxBytes)
        {
            throw new InvalidDataException($"{PathText.Printable(path)}: expected at most {MaxBytes} bytes, found {identity.Bytes}");
        }

        byte[] content = new byte[identity.Bytes];
        int count = 0;
        while (count < content.Length && Posix.Read(file, content.AsSpan(count), count, path) is > 0 and int read)
        {
            count += read;
        }

        try
        {
            CopiesMarker? marker = JsonSerializer.Deserialize(content.AsSpan(0, count), CopiesMarkerJson.Default.CopiesMarker);
            return marker is { Version: KnownVersion, Name.Length: > 0 } && marker.Id != Guid.Empty
                ? marker
                : throw new InvalidDataException($"{PathText.Printable(path)}: expected a marker of version {KnownVersion}, found version {marker?.Version ?? 0}");
        }
        catch (JsonException error)
        {
            throw new InvalidDataException($"{PathText.Printable(path)}: expected a marker, found {PathText.Printable(error.Message)}", error);
        }
    }

    /// <summary>Marks a folder that exists. A folder with a marker keeps it.</summary>
    /// <returns>The marker that is there now.</returns>
    /// <exception cref="InvalidDataException">The folder belongs to another name.</exception>
    /// <exception cref="PosixException">The folder is not there, or cannot be written.</exception>
    public static CopiesMarker Prepare(string root, string name, DateTimeOffset now)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(name);
        if (TryRead(root) is { } present)
        {
            return present.Name == name
                ? present
                : throw new InvalidDataException($"{PathText.Printable(root)} was prepared as '{PathText.Printable(present.Name)}', not as '{PathText.Printable(name)}'");
        }

        var marker = new CopiesMarker(KnownVersion, name, Guid.CreateVersion7(now), now.ToUniversalTime());
        DurableFile.WriteNew(Path.Combine(root, FileName), Encoding.UTF8.GetBytes(JsonSerializer.Serialize(marker, CopiesMarkerJson.Default.CopiesMarker) + "\n"));
        return marker;
    }
}

[JsonSourceGenerationOptions(
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase, UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow, RespectNullableAnnotations = true,
    RespectRequiredConstructorParameters = true, AllowDuplicateProperties = false)]
[JsonSerializable(typeof(CopiesMarker))]
internal sealed partial class CopiesMarkerJson : JsonSerializerContext;
