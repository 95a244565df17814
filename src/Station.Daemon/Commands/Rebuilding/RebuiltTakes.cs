using System.Collections.Immutable;
using System.Globalization;
using System.Text.Json.Nodes;
using Station.Archive.Events;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Commands.Rebuilding;

/// <summary>
/// Replays the histories of some records over the takes their reports name: which captures a take is made of, which take of a side is in force, what a person said about cuts,
/// and which captures were filed elsewhere. Pure.
/// </summary>
internal sealed class RebuiltTakes
{
    private readonly Dictionary<(string Record, string Side, int Number), TakeDraft> _takes = new(new TakeKeys());
    private readonly Dictionary<(string Record, string Side, int Number), StoredCue> _cues = new(new TakeKeys());

    /// <summary>Acceptances in force, by the labels of all captures the accepted takes are made of.</summary>
    public Dictionary<string, Acceptance> Accepted { get; } = new(StringComparer.Ordinal);

    /// <summary>When a later take was accepted, by the labels of older takes' captures.</summary>
    public Dictionary<string, DateTimeOffset> Superseded { get; } = new(StringComparer.Ordinal);

    public Dictionary<string, (DateTimeOffset At, string? Why)> Discarded { get; } = new(StringComparer.Ordinal);

    public Dictionary<string, DateTimeOffset> Archived { get; } = new(StringComparer.Ordinal);

    /// <summary>In the order they were decided; the last one of a label counts.</summary>
    public List<(string Label, FiledAs From, string FromTakes, FiledAs To, string ToTakes, RecordEvent Told)> Identified { get; } = [];

    public IEnumerable<TakeDraft> Takes => _takes.Values;

    /// <summary>The cues, by take; those for a side's next take under 0.</summary>
    public IEnumerable<StoredCue> Cues => _cues.Values;

    /// <summary>A take as its capture's report names it.</summary>
    /// <param name="part">The capture's part, 1 for a whole one.</param>
    public void Add(string label, string record, int part, string side, int number, long startFrame, long? endFrame) =>
        Of(record, side, number).Spans[part] = new SpanDraft(label, startFrame, endFrame);

    /// <param name="events">In the order of time.</param>
    /// <param name="partOf">A capture's part, by label; 1 for a whole one.</param>
    public void Replay(IEnumerable<RecordEvent> events, Func<string, int> partOf)
    {
        foreach (RecordEvent e in events)
        {
            switch (e.Type)
            {
                case RecordHistory.IngestionType when e.Capture is { } label:
                    Archived[label] = e.At;
                    AddSpans(e, partOf, replace: false);
                    break;
                case RecordHistory.AcceptedType when e is { Capture: { } label, Take: { } takes }:
                    AddSpans(e, partOf, replace: true);
                    Accept(e, label, Names(takes));
                    break;
                case RecordHistory.DiscardedType when e.Capture is { } label:
                    Discarded[label] = (e.At, e.Reason);
                    break;
                case RecordHistory.IdentifiedType when e.Capture is { } label:
                    Identify(e, label, partOf);
                    break;
                case RecordHistory.CueType or RecordHistory.ReleasedType when SideOf(e) is { } side:
                    Cue(e, side);
                    break;
                default:
                    break;
            }
        }
    }

    /// <summary>A capture came to nothing or was thrown away: its takes too, but for one that has other parts which were in no take before.</summary>
    public void Leave(string label, TakeState state, DateTimeOffset? at, string? reason)
    {
        foreach (TakeDraft take in _takes.Values.Where(t => t.State is TakeState.Pending && t.Spans.Values.Any(s => s.Label == label)).ToArray())
        {
            bool goesOn = take.Spans.Values.Any(s => s.Label != label && !_takes.Values.Any(
                o => o != take && o.Side == take.Side && o.State is not (TakeState.Void or TakeState.Discarded) && o.Spans.Values.Any(os => os.Label == s.Label)));
            if (goesOn)
            {
                take.Remove(label);
            }
            else
            {
                (take.State, take.DecidedAt, take.Reason) = (state, at, reason);
            }
        }
    }

    /// <summary>Cues that were for a side's next take belong to the first one that came and was something.</summary>
    /// <param name="receivedAt">When a whole capture of one side came, by label; null for any other.</param>
    public void BindWaitingCues(Func<string, DateTimeOffset?> receivedAt)
    {
        foreach (StoredCue cue in _cues.Values.Where(c => c.Take == 0).ToArray())
        {
            TakeDraft? take = _takes.Values
                .Where(t => IsSame(t.Record, cue.RecordId) && t.Side == cue.Side && t.State != TakeState.Void
                    && t.Spans.Values.Any(s => receivedAt(s.Label) is { } at && at >= cue.At))
                .MinBy(t => t.Number);
            if (take is null)
            {
                continue;
            }

            _cues.Remove((cue.RecordId, cue.Side, 0));
            _cues.TryAdd((cue.RecordId, cue.Side, take.Number), cue with { Take = take.Number });
        }
    }

    public static ImmutableArray<(string Side, int Number)> Names(string takes) =>
    [
        .. takes.Split(", ", StringSplitOptions.RemoveEmptyEntries).Select(t => t.Split('-'))
            .Where(t => t.Length == 2 && int.TryParse(t[1], NumberStyles.None, CultureInfo.InvariantCulture, out _))
            .Select(t => (t[0], int.Parse(t[1], CultureInfo.InvariantCulture))),
    ];

    private TakeDraft Of(string record, string side, int number)
    {
        if (!_takes.TryGetValue((record, side, number), out TakeDraft? take))
        {
            take = new TakeDraft(record, side, number);
            _takes.Add((record, side, number), take);
        }

        return take;
    }

    private void AddSpans(RecordEvent e, Func<string, int> partOf, bool replace)
    {
        var begun = new HashSet<TakeDraft>();
        foreach (JsonNode? node in e.Details?["spans"]?.AsArray() ?? [])
        {
            if (node is null || (string?)node["take"] is not { } name || Names(name) is not [var (side, number)] || (string?)node["capture"] is not { } label)
            {
                continue;
            }

            TakeDraft take = Of(e.Record, side, number);
            if (replace && begun.Add(take))
            {
                take.Spans.Clear();
            }

            take.Spans[partOf(label)] = new SpanDraft(label, (long?)node["startFrame"] ?? 0, (long?)node["endFrame"]);
        }
    }

    /// <summary>The rule of the store: the newest accepted take is in force, unless a person accepted an older one after it.</summary>
    private void Accept(RecordEvent e, string label, ImmutableArray<(string Side, int Number)> names)
    {
        bool byPerson = (string?)e.Details?["by"] == "operator";
        foreach ((string side, int number) in names)
        {
            TakeDraft take = Of(e.Record, side, number);
            TakeDraft[] others = [.. _takes.Values.Where(t => t != take && IsSame(t.Record, e.Record) && t.Side == side)];
            foreach (string its in take.Spans.Values.Select(s => s.Label).Append(label))
            {
                Accepted[its] = new Acceptance(e.At, e.Reason, byPerson);
                Superseded.Remove(its);
            }

            (take.DecidedAt, take.Reason) = (e.At, e.Reason);
            if (!byPerson && others.Any(t => t.State == TakeState.Accepted && t.Number > number))
            {
                take.State = TakeState.Superseded;
                continue;
            }

            take.State = TakeState.Accepted;
            foreach (TakeDraft other in others.Where(t => t.State == TakeState.Accepted || (t.State == TakeState.Pending && t.Number < number)))
            {
                (other.State, other.DecidedAt) = (TakeState.Superseded, e.At);
            }

            HashSet<string> kept = [.. others.Append(take).Where(t => t.Number >= number && t.State is not (TakeState.Void or TakeState.Discarded)).SelectMany(t => t.Labels)];
            foreach (string older in others.Where(t => t.Number < number).SelectMany(t => t.Labels).Where(l => !kept.Contains(l)))
            {
                Superseded[older] = e.At;
            }
        }
    }

    private void Identify(RecordEvent e, string label, Func<string, int> partOf)
    {
        if (Filed(e.Details?["from"]) is not { } from || Filed(e.Details?["to"]) is not { } to || Identified.Any(i => i.Told.Id == e.Id))
        {
            return;
        }

        Identified.Add((label, from.As, from.Takes, to.As, to.Takes, e));
        Accepted.Remove(label);
        Superseded.Remove(label);
        foreach ((string side, int number) in Names(from.Takes))
        {
            TakeDraft left = Of(from.As.RecordId, side, number);
            left.Remove(label);
            if (left.Spans.Count > 0)
            {
                continue;
            }

            bool wasInForce = left.State == TakeState.Accepted;
            (left.State, left.DecidedAt, left.Reason) = (TakeState.Void, e.At, $"{label} is {to.As.Words}.");
            if (wasInForce && _takes.Values.Where(t => IsSame(t.Record, left.Record) && t.Side == side && t.State == TakeState.Superseded && t.Labels.Any(Accepted.ContainsKey))
                .MaxBy(t => t.Number) is { } before)
            {
                (before.State, before.DecidedAt) = (TakeState.Accepted, e.At);
            }
        }

        foreach ((string side, int number) in Names(to.Takes))
        {
            TakeDraft take = Of(to.As.RecordId, side, number);
            take.Spans.TryAdd(to.As.Part ?? partOf(label), new SpanDraft(label, 0, null));
            if (Names(from.Takes) is [var (oldSide, oldNumber)] && Names(to.Takes).Length == 1
                && _cues.Remove((from.As.RecordId, oldSide, oldNumber), out StoredCue? cue))
            {
                _cues[(to.As.RecordId, side, number)] = cue with { RecordId = to.As.RecordId, Side = side, Take = number };
            }
        }
    }

    private void Cue(RecordEvent e, string side)
    {
        int number = e.Take is { } take && Names(take) is [var named] ? named.Number : 0;
        int revision = _cues.TryGetValue((e.Record, side, number), out StoredCue? known) ? known.Revision : 0;
        _cues[(e.Record, side, number)] = new StoredCue(
            e.Record, side, (string?)e.Details?["file"] ?? known?.FileName ?? $"{e.Record}-{side}.cue", (string?)e.Details?["cue"], e.At, number, revision + 1);
    }

    private static string? SideOf(RecordEvent e) => (string?)e.Details?["side"];

    private static (FiledAs As, string Takes)? Filed(JsonNode? node) =>
        node is not null && (string?)node["record"] is { } record && (string?)node["sides"] is { } sides
            ? (new FiledAs(record, sides, (int?)node["part"]), (string?)node["takes"] ?? "")
            : null;

    private static bool IsSame(string one, string other) => string.Equals(one, other, StringComparison.OrdinalIgnoreCase);

    private sealed class TakeKeys : IEqualityComparer<(string Record, string Side, int Number)>
    {
        public bool Equals((string Record, string Side, int Number) x, (string Record, string Side, int Number) y) =>
            IsSame(x.Record, y.Record) && x.Side == y.Side && x.Number == y.Number;

        public int GetHashCode((string Record, string Side, int Number) key) =>
            HashCode.Combine(StringComparer.OrdinalIgnoreCase.GetHashCode(key.Record), key.Side, key.Number);
    }
}

/// <param name="ByPerson">A person overrode the verdict.</param>
internal sealed record Acceptance(DateTimeOffset At, string? Why, bool ByPerson);

/// <summary>A take that is being put together.</summary>
internal sealed class TakeDraft(string record, string side, int number)
{
    public string Record { get; } = record;

    public string Side { get; } = side;

    public int Number { get; } = number;

    public TakeState State { get; set; } = TakeState.Pending;

    public DateTimeOffset? DecidedAt { get; set; }

    public string? Reason { get; set; }

    /// <summary>By part.</summary>
    public SortedDictionary<int, SpanDraft> Spans { get; } = [];

    public IEnumerable<string> Labels => Spans.Values.Select(s => s.Label);

    public void Remove(string label)
    {
        foreach (int part in Spans.Where(s => s.Value.Label == label).Select(s => s.Key).ToArray())
        {
            Spans.Remove(part);
        }
    }
}

/// <param name="EndFrame">Exclusive; null for the capture's end.</param>
internal sealed record SpanDraft(string Label, long StartFrame, long? EndFrame);
