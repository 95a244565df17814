using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Tells where else tracks may meet, and what speaks for each place.</summary>
/// <param name="envelope">The side's level.</param>
/// <param name="map">Where its music lies.</param>
/// <param name="trust">0 to 1: how sure the groove's own noise is.</param>
/// <param name="lengths">Of each track by the sheet, seconds, null where not stated.</param>
internal sealed class OtherPlaces(LevelEnvelope envelope, MusicMap map, double trust, ImmutableArray<double?> lengths)
{
    // A boundary surer than this needs no other place; no more are told than a person would go through (own choice).
    private const double SureEnough = 0.8;
    private const int Most = 24;

    /// <summary>Other places of boundaries that are not sure.</summary>
    /// <param name="chosen">As many as there are lengths, less one.</param>
    public ImmutableArray<OtherPlace> Instead(ImmutableArray<Boundary> chosen)
    {
        List<OtherPlace> places = [];
        for (int i = 0; i < chosen.Length; i++)
        {
            if (trust * chosen[i].Sureness < SureEnough)
            {
                int from = i == 0 ? map.FirstStep : chosen[i - 1].EndStep;
                int track = i;
                places.AddRange(chosen[i].Others.Select(other => Of(other, track + 2, Gap(other) + Length(track, from, other))));
            }
        }

        return InOrder(places);
    }

    /// <summary>Places where there may be one cut more.</summary>
    /// <param name="free">All there are.</param>
    /// <param name="chosen">Those that were cut.</param>
    public ImmutableArray<OtherPlace> Further(FreeChoice free, ImmutableArray<Boundary> chosen) => InOrder(
    [
        .. free.Chosen.Concat(free.Others(Most))
            .Where(place => !chosen.Any(cut => cut.FirstStep <= place.EndStep && place.FirstStep <= cut.EndStep))
            .Take(Most)
            .Select(place => Of(place, null, Gap(place))),
    ]);

    private static ImmutableArray<OtherPlace> InOrder(List<OtherPlace> places) => [.. places.OrderByDescending(place => place.Confidence).Take(Most).OrderBy(place => place.StartFrame).ThenBy(place => place.InsteadOf)];

    private OtherPlace Of(Boundary place, int? insteadOf, string why) => new(
        insteadOf, (long)place.FirstStep * envelope.StepFrames, (long)place.EndStep * envelope.StepFrames, trust * place.Sureness, why);

    private string Gap(Boundary place) => place.Heard
        ? string.Create(CultureInfo.InvariantCulture, $"it is quiet for {Seconds(place.FirstStep, place.EndStep):0.0} s")
        : "the printed lengths point here; no gap is heard";

    private string Length(int track, int from, Boundary place) => lengths[track] is { } printed
        ? string.Create(CultureInfo.InvariantCulture, $"; track {track + 1} would last {Clock(Seconds(from, place.FirstStep))}, and {Clock(printed)} is printed")
        : "";

    private double Seconds(int from, int to) => (double)(to - from) * envelope.StepFrames / envelope.SampleRateHz;

    private static string Clock(double seconds)
    {
        long whole = (long)Math.Round(Math.Max(0, seconds));
        return string.Create(CultureInfo.InvariantCulture, $"{whole / 60}:{whole % 60:00}");
    }
}
