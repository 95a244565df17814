namespace Station.Archive.Durability;

/// <summary>All that one look at a file or folder tells.</summary>
/// <param name="Kind">Links are not followed.</param>
/// <param name="Identity">Device, number, length, time of change.</param>
/// <param name="LinkCount">Names the file has; more than one means somebody may write it under another name.</param>
/// <param name="OwnerUserId">User id of the owner.</param>
/// <param name="Mode">Permission bits, 0 to octal 7777.</param>
/// <param name="ChangedNanoseconds">
/// Time of the last change of content, name or permissions, nanoseconds since 1970. Programs can set <see cref="FileIdentity.ModifiedNanoseconds"/> as they like, this one they can't.
/// </param>
/// <param name="BornNanoseconds">When the file was made, likewise; 0 where the file system does not know. A new file may get the number of one that was removed.</param>
public readonly record struct FileFacts(
    FileKind Kind, FileIdentity Identity, long LinkCount, long OwnerUserId, int Mode, long ChangedNanoseconds, long BornNanoseconds);
