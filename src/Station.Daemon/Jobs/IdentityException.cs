namespace Station.Daemon.Jobs;

/// <summary>A capture can't be filed as was asked; one line for the person who asked.</summary>
/// <param name="isName">The name that was given is none; otherwise it is one and can't be this capture's.</param>
internal sealed class IdentityException(string message, bool isName = false) : InvalidOperationException(message)
{
    public bool IsName { get; } = isName;
}
