using System.Text.Json.Nodes;
using Station.Daemon.Jobs;

namespace Station.Daemon.Copies;

/// <summary>What is told of copies.</summary>
internal static class CopyAlerts
{
    public static AlertDraft Missing(CopyPlace place, string why) => new(
        "replica.missing",
        place.IsArchive ? $"The archive can't be used: {why} Nothing is archived until it is back." : $"The replica {place.Name} can't be used: {why} What it lacks is copied when it is back.",
        new JsonObject { ["place"] = place.Name, ["reason"] = why });

    public static AlertDraft Back(CopyPlace place) => new(
        "replica.back", place.IsArchive ? "The archive is back." : $"The replica {place.Name} is back; what it lacks is being copied.", new JsonObject { ["place"] = place.Name });

    public static AlertDraft NotCopied(CopyPlace place, Capture capture, string problem) => new(
        "replica.behind", $"{capture.Label} could not be copied to {place.Name}: {problem} It is tried again, at least every five minutes.", Data(place, capture, problem));

    public static AlertDraft CaughtUp(CopyPlace place) => new(
        "replica.caught_up", $"What could not be copied to {place.Name} is copied now.", new JsonObject { ["place"] = place.Name });

    public static AlertDraft Damaged(CopyPlace place, Capture capture, string problem) => new(
        "archive.damaged", $"The copy of {capture.Label} in {place.Name} is damaged: {problem} No good copy was found to mend it from; check that disk.",
        Data(place, capture, problem));

    public static AlertDraft Mended(CopyPlace place, Capture capture, string problem, string from, string? aside) => new(
        "archive.mended",
        $"The copy of {capture.Label} in {place.Name} was damaged ({problem}) and was replaced from {from}. {(aside is null ? "Nothing of it was left." : $"The damaged one is kept as {aside}.")} Check that disk.",
        Data(place, capture, problem));

    private static JsonObject Data(CopyPlace place, Capture capture, string problem) => new()
    {
        ["place"] = place.Name,
        ["capture"] = capture.Label,
        ["record"] = capture.LabelRecordId,
        ["reason"] = problem,
    };
}
