using System.Buffers;
using System.Text.Unicode;
using Station.Archive.Durability;
using Station.Daemon.Records;

namespace Station.Daemon.Intake;

/// <summary>
/// What lies in the inbox, remembered from sweep to sweep. Names seen before cost no memory: a sweep over an inbox in which nothing happens makes
/// nothing new.
/// </summary>
internal sealed class InboxContents(TimeProvider clock)
{
    private const int MaxNameBytes = 255;       // NAME_MAX of Linux

    private readonly Dictionary<string, InboxEntry> _entries = new(StringComparer.Ordinal);
    private long _sweep;

    /// <summary>Called for each name; <paramref name="facts"/> is null when it went meanwhile, <paramref name="error"/> set when the file system can't say.</summary>
    public delegate void Visitor(InboxEntry entry, FileFacts? facts, PosixException? error);

    public int Count => _entries.Count;

    public IEnumerable<InboxEntry> Entries => _entries.Values;

    /// <summary>Goes through the inbox once, and forgets what is no longer there.</summary>
    /// <exception cref="PosixException">The folder could not be listed to its end; nothing is forgotten.</exception>
    public void Look(OpenFolder inbox, Visitor visit)
    {
        _sweep++;
        var names = _entries.GetAlternateLookup<ReadOnlySpan<char>>();
        inbox.ForEach(listed =>
        {
            Span<char> chars = stackalloc char[MaxNameBytes];
            InboxEntry? entry;
            if (Utf8.ToUtf16(listed.Name, chars, out _, out int length, replaceInvalidSequences: false) != OperationStatus.Done)
            {
                entry = Undecodable(listed.Name);
            }
            else if (!names.TryGetValue(chars[..length], out entry))
            {
                string name = new(chars[..length]);
                entry = new InboxEntry(name, null, CaptureName.Parse(name), clock);
                _entries.Add(name, entry);
            }

            entry.SeenIn = _sweep;
            if (entry.Kind is CaptureName.Temporary)
            {
                return;
            }

            FileFacts? facts;
            try
            {
                facts = inbox.TryLook(listed);
            }
            catch (PosixException error)
            {
                visit(entry, null, error);
                return;
            }

            visit(entry, facts, null);
        });

        foreach ((string key, InboxEntry entry) in _entries)
        {
            if (entry.SeenIn != _sweep)
            {
                _entries.Remove(key);       // removing while going through is allowed since .NET Core 3.0
            }
        }
    }

    public void Forget(InboxEntry entry) => _entries.Remove(Key(entry.Name, entry.RawName is not null));

    public void Clear() => _entries.Clear();

    private InboxEntry Undecodable(ReadOnlySpan<byte> name)
    {
        string escaped = UndecodableName.Escape(name);
        string key = Key(escaped, undecodable: true);
        if (!_entries.TryGetValue(key, out InboxEntry? entry))
        {
            CaptureName kind = CaptureName.Parse(escaped) is CaptureName.Temporary hidden ? hidden : new CaptureName.Unknown(UndecodableName.Reason);
            entry = new InboxEntry(escaped, name.ToArray(), kind, clock);
            _entries.Add(key, entry);
        }

        return entry;
    }

    /// <summary>No file's name holds NUL, so the escaped form of one name is never taken for another file's name.</summary>
    private static string Key(string name, bool undecodable) => undecodable ? "\0" + name : name;
}
