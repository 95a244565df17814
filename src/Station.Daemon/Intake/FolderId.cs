using Station.Archive.Durability;

namespace Station.Daemon.Intake;

/// <summary>Which folder this is. The time of birth belongs to it: a folder made after another was removed often gets its number.</summary>
internal readonly record struct FolderId(ulong Device, ulong Inode, long BornNanoseconds)
{
    public static FolderId Of(FileFacts facts) => new(facts.Identity.Device, facts.Identity.Inode, facts.BornNanoseconds);
}
