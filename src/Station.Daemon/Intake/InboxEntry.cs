using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>One name in the inbox, for as long as it is there, and what is known about what stands under it.</summary>
/// <param name="name">The name; with <paramref name="rawName"/> a text that stands for it.</param>
/// <param name="rawName">The name's bytes when they are no UTF-8, else null.</param>
internal sealed class InboxEntry(string name, byte[]? rawName, CaptureName kind, TimeProvider clock)
{
    public string Name { get; } = name;

    public byte[]? RawName { get; } = rawName;

    public CaptureName Kind { get; } = kind;

    public SettleTimer Timer { get; } = new(clock);

    /// <summary>Of the version that <see cref="Timer"/> watches; null until it was read.</summary>
    public HeaderState? Header { get; private set; }

    public long Bytes => Timer.Identity?.Bytes ?? 0;

    /// <summary>Settled, and of a kind nobody takes: not looked into again until it changes.</summary>
    public bool Stays { get; set; }

    /// <summary>Number of the last sweep that saw the name.</summary>
    public long SeenIn { get; set; }

    /// <summary>What was last said about the file: the same is not said twice.</summary>
    public string? Said { get; set; }

    public void Read(HeaderState header) => Header = header;

    /// <summary>Another version stands under the name: what was known about the one before counts no more.</summary>
    public void Renew()
    {
        Header = null;
        Stays = false;
    }
}
