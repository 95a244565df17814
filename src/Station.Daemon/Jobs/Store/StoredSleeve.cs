namespace Station.Daemon.Jobs.Store;

/// <summary>The picture of a record's sleeve in force.</summary>
/// <param name="FileName">The name it was dropped under.</param>
/// <param name="Path">Where it lies, relative to the station folder when inside it.</param>
/// <param name="Sha256">Of its bytes, lower-case hex.</param>
/// <param name="MediaType"><c>image/jpeg</c> or <c>image/png</c>.</param>
internal sealed record StoredSleeve(
    string RecordId, string FileName, string Path, string Sha256, long Bytes, string MediaType, int WidthPixels, int HeightPixels, DateTimeOffset At);
