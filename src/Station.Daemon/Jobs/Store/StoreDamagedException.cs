namespace Station.Daemon.Jobs.Store;

/// <summary>The database does not read, or is not there though the station has a history: nothing of what it told is lost, and the message says how to make it anew.</summary>
internal sealed class StoreDamagedException : IOException
{
    /// <summary>What to do, in the operator's words.</summary>
    public const string Cure = "Nothing that was archived, held or reported is lost with it: stop the service and run stationd state rebuild, which makes the database anew and keeps the old one.";

    public StoreDamagedException(string problem, Exception? inner = null)
        : base($"{problem} {Cure}", inner)
    {
    }
}
