namespace Station.Daemon.Jobs.Store;

/// <summary>What a person last said about the cuts of one take.</summary>
/// <param name="Side">One letter.</param>
/// <param name="FileName">What messages call it.</param>
/// <param name="Text">The cue sheet as given; null: the person's cuts were taken back.</param>
/// <param name="Take">The take's number, 0 for the next one that comes. Null, when it is to be stored: the side's newest open or accepted take, else the next one.</param>
/// <param name="Revision">Counts what was said about this take, from 1; given by the store.</param>
internal sealed record StoredCue(string RecordId, string Side, string FileName, string? Text, DateTimeOffset At, int? Take = null, int Revision = 0)
{
    /// <summary>Such as <c>A-2</c>; null for the next take that comes.</summary>
    public string? TakeName => Take is > 0 and var number ? string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{Side}-{number}") : null;
}
