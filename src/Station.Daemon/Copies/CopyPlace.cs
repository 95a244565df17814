using Station.Archive.Copies;
using Station.Daemon.Jobs;

namespace Station.Daemon.Copies;

/// <summary>A root below which bags lie as <c>&lt;record&gt;/&lt;bag&gt;</c>: the archive or a replica.</summary>
/// <param name="Name">See <see cref="CopyPlaces"/>.</param>
/// <param name="Root">Absolute.</param>
internal sealed record CopyPlace(string Name, string Root)
{
    public bool IsArchive => Name == CopyPlaces.Archive;

    public string RecordFolder(Capture capture) => Path.Combine(Root, capture.LabelRecordId);

    public string BagOf(Capture capture) => Path.Combine(RecordFolder(capture), capture.Label);

    /// <summary>Null when bags can be read and written there; otherwise why not, in the operator's words.</summary>
    public string? WhyNotReady()
    {
        try
        {
            if (!Directory.Exists(Root))
            {
                return $"{Root} is not there.";
            }

            return CopiesMarker.TryRead(Root) switch
            {
                null => $"{Root} has no marker: its disk or share is not mounted, or it was never prepared (stationd {(IsArchive ? "archive prepare" : $"replica prepare {Name}")}).",
                { Name: var name } when name != Name => $"{Root} was prepared as '{name}', not as '{Name}': another disk is mounted there.",
                _ => null,
            };
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            return $"{Root} can't be read: {error.Message}";
        }
        catch (InvalidDataException error)
        {
            return error.Message;
        }
    }
}
