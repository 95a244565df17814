namespace Station.Archive.Durability;

/// <summary>All that one look at a file or folder tells.</summary>
/// <param name="Kind">Links are not followed.</param>
/// <param name="Identity">Device, number, length, time of change.</param>
/// <param name="LinkCount">Names the file has; more than one means somebody may write it under another name.</param>
/// <param name="OwnerUserId">User id of the owner.</param>
/// <param name="Mode">Permission bits, 0 to octal 7777.</param>
public readonly record struct FileFacts(FileKind Kind, FileIdentity Identity, long LinkCount, long OwnerUserId, int Mode);
