using System.Collections.Immutable;

namespace Station.Archive.Events;

/// <summary>Everything an event log holds, the good and the damaged.</summary>
/// <param name="Events">Events in the order of the file; of several lines with one id the first.</param>
/// <param name="TornLines">Lines cut short by a kill or power cut while they were written: never acknowledged, so nothing is missing.</param>
/// <param name="Damaged">Lines that are neither: line number from 1 and what is wrong.</param>
public sealed record EventLogContent(ImmutableArray<RecordEvent> Events, int TornLines, ImmutableArray<(int LineNumber, string Reason)> Damaged);
