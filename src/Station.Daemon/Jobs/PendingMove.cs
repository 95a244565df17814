namespace Station.Daemon.Jobs;

/// <summary>
/// A decided move of the dropped file. It is stored before the file is touched, so that a restart finishes it: when the file is no
/// longer at <see cref="From"/> it must be at <see cref="To"/>.
/// </summary>
/// <param name="From">Relative to the station folder.</param>
/// <param name="To">Relative to the station folder; free when it was decided. Empty: the file is unlinked, since its bytes are kept elsewhere.</param>
/// <param name="Why">For an unlinked file: what the operator is told.</param>
internal sealed record PendingMove(string From, string To, string? Why = null)
{
    public bool IsRelease => To.Length == 0;
}
