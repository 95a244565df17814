namespace Station.Evaluation.Disc;

/// <summary>The music drawn for a side can't carry its fault (too quiet, too wide): another one is drawn.</summary>
public sealed class SideUnfitException(string message) : Exception(message);
