namespace Station.Daemon.Listening;

/// <summary>
/// Staged files are neither in the staging folder nor in place, or aren't what their digest says: the side has to be encoded again. Trying to publish again can't help.
/// </summary>
internal sealed class StagedFilesLostException(string message) : IOException(message);

/// <summary>Something that isn't the service's stands where a folder has to be (a link, a file). A person has to remove it; then trying again helps.</summary>
internal sealed class ListeningFolderException(string message) : IOException(message);
