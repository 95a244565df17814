using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Daemon.Copies;

namespace Station.Daemon.Commands;

/// <summary><c>stationd replica prepare NAME</c>: a person says, with the disk mounted, that this is the folder.</summary>
internal static class ReplicaCommand
{
    public static int Prepare(string name, StationConfiguration configuration, TimeProvider clock)
    {
        if (configuration.Copies.Replicas.FirstOrDefault(r => r.Name == name) is not { } replica)
        {
            string known = configuration.Copies.Replicas.Count == 0 ? "it names none" : $"it names {string.Join(", ", configuration.Copies.Replicas.Select(r => r.Name))}";
            Console.Error.WriteLine($"The configuration has no replica '{name}'; {known}.");
            return ExitCodes.Usage;
        }

        if (!Directory.Exists(replica.Folder))
        {
            Console.Error.WriteLine($"{replica.Folder}: there is no such folder. Mount the disk and make the folder first.");
            return ExitCodes.Usage;
        }

        try
        {
            CopiesMarker marker = CopiesMarker.Prepare(replica.Folder, name, clock.GetUtcNow());
            Console.WriteLine($"{replica.Folder} holds copies as '{marker.Name}' since {marker.PreparedAt:yyyy-MM-dd}.");
            return 0;
        }
        catch (InvalidDataException error)
        {
            Console.Error.WriteLine(error.Message);
            return ExitCodes.Usage;
        }
        catch (PosixException error)
        {
            Console.Error.WriteLine(error.Message);
            return ExitCodes.Failure;
        }
    }
}
