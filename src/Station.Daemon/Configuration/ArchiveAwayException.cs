namespace Station.Daemon.Configuration;

/// <summary>The archive is not there, or not this station's: nothing is written. May pass by itself.</summary>
/// <param name="why">In the operator's words.</param>
internal sealed class ArchiveAwayException(string why) : IOException(why);
