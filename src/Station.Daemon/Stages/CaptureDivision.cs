using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Stages;

/// <summary>Divides one capture: a side as its name says, several sides parted where the stylus was lifted, or what doesn't fit its name. Pure.</summary>
internal static class CaptureDivision
{
    /// <param name="sides">Letters in the order of the file.</param>
    /// <param name="heard">What its inspection heard of the disc.</param>
    public static DivideResult Of(LevelEnvelope envelope, string sides, RecordSheet? sheet, DivisionSettings settings, DiscHeard heard)
    {
        CaptureParting parting = CaptureParting.Of(envelope, settings);
        return sides.Length > 1
            ? parting.Played.Length == sides.Length ? Parted(envelope, sides, sheet, settings, parting, heard) : Unparted(envelope, sides, parting)
            : parting.Lifts.IsEmpty ? Whole(envelope, sides, sheet, settings, heard) : Interrupted(envelope, sides, sheet, settings, parting, heard);
    }

    /// <summary>One side from end to end.</summary>
    public static DivideResult Whole(LevelEnvelope envelope, string side, RecordSheet? sheet, DivisionSettings settings, DiscHeard heard)
    {
        SideDivision division = SideDivider.Divide(envelope, settings, heard.Guide(sheet?.Side(SideLetter.Of(side[0]))));
        return new DivideResult(division.Method, division.Confidence, Tracks(division, side, sheet, 0, 0), division.Findings) { Alternatives = Others(division, side, 0, 0) };
    }

    private static DivideResult Parted(LevelEnvelope envelope, string sides, RecordSheet? sheet, DivisionSettings settings, CaptureParting parting, DiscHeard heard)
    {
        var tracks = ImmutableArray.CreateBuilder<DividedTrack>();
        var others = ImmutableArray.CreateBuilder<DividedAlternative>();
        var spans = ImmutableArray.CreateBuilder<SideSpan>();
        ImmutableArray<Finding>.Builder findings = ImmutableArray.CreateBuilder<Finding>();
        findings.Add(SideChangeRule.Tell(
            envelope, parting, Severity.Note,
            string.Create(CultureInfo.InvariantCulture, $"The file was parted into sides {string.Join(", ", sides.ToCharArray())} where the stylus was lifted."),
            "Nothing to do; listen to the first seconds of each side if in doubt."));
        double confidence = 1;
        DivisionMethod method = DivisionMethod.Cue;
        for (int i = 0; i < sides.Length; i++)
        {
            string side = sides[i..(i + 1)];
            GrooveStretch groove = parting.Played[i];
            long first = (long)groove.FirstStep * envelope.StepFrames;
            SideDivision division = SideDivider.Divide(
                envelope.Slice(groove.FirstStep, groove.EndStep), settings, heard.After((double)first / envelope.SampleRateHz).Guide(sheet?.Side(SideLetter.Of(side[0]))));
            tracks.AddRange(Tracks(division, side, sheet, first, 0));
            others.AddRange(Others(division, side, first, 0));
            spans.Add(new SideSpan(side, first, groove.EndStep == envelope.Steps ? null : (long)groove.EndStep * envelope.StepFrames));
            findings.AddRange(division.Findings.Select(f => Moved(f, $"Side {side}: ", (double)first / envelope.SampleRateHz)));

            // The file is as sure as its least sure side.
            if (i == 0 || division.Confidence < confidence)
            {
                (confidence, method) = (division.Confidence, division.Method);
            }
        }

        return new DivideResult(method, confidence, tracks.ToImmutable(), findings.ToImmutable(), spans.ToImmutable()) { Alternatives = others.ToImmutable() };
    }

    /// <summary>The name says another number of sides than are heard: nothing is cut, a person looks.</summary>
    private static DivideResult Unparted(LevelEnvelope envelope, string sides, CaptureParting parting)
    {
        int heard = parting.Played.Length;
        string said = heard == 1 ? "one stretch of music is" : string.Create(CultureInfo.InvariantCulture, $"{heard} stretches of music are");
        Finding finding = SideChangeRule.Tell(
            envelope, parting, Severity.Review,
            string.Create(
                CultureInfo.InvariantCulture,
                $"The name says {sides.Length} sides ({string.Join(", ", sides.ToCharArray())}), and {said} heard with the stylus lifted between; the file was not parted."),
            "The master is archived as dropped. Cut the file where the stylus was lifted and drop each side as a file of its own, or play the sides again with a pause of some seconds in between.") with
        {
            Count = heard,
            Measured = heard,
            Limit = sides.Length,
            Unit = "sides",
        };
        return new DivideResult(
            DivisionMethod.WholeSide, 0, [new DividedTrack(sides[..1], 1, null, 0, envelope.TotalFrames, 0)], [finding],
            [.. sides.Select(side => new SideSpan(side.ToString(), 0, null))]);
    }

    /// <summary>One side by its name, and the stylus was lifted inside: no track runs over the stretch.</summary>
    private static DivideResult Interrupted(LevelEnvelope envelope, string side, RecordSheet? sheet, DivisionSettings settings, CaptureParting parting, DiscHeard heard)
    {
        ImmutableArray<GrooveStretch> played = parting.Played;
        if (played.Length <= 1)
        {
            // Set down and lifted again without music, before the side or after it.
            GrooveStretch only = played.Length == 1 ? played[0] : new GrooveStretch(0, envelope.Steps, HasMusic: false);
            long first = (long)only.FirstStep * envelope.StepFrames;
            SideDivision division = SideDivider.Divide(
                envelope.Slice(only.FirstStep, only.EndStep), settings, heard.After((double)first / envelope.SampleRateHz).Guide(sheet?.Side(SideLetter.Of(side[0]))));
            Finding note = SideChangeRule.Tell(
                envelope, parting, Severity.Note, "The stylus was set down and lifted without music; that is in no track.", "Nothing to do.");
            return new DivideResult(
                division.Method, division.Confidence, Tracks(division, side, sheet, first, 0),
                [note, .. division.Findings.Select(f => Moved(f, "", (double)first / envelope.SampleRateHz))])
            {
                Alternatives = Others(division, side, first, 0),
            };
        }

        Finding finding = SideChangeRule.Judge(envelope, parting, side[0])!;
        ImmutableArray<SideDivision> divisions = Shared(envelope, played, sheet?.Side(SideLetter.Of(side[0])), settings, heard);
        var tracks = ImmutableArray.CreateBuilder<DividedTrack>();
        var others = ImmutableArray.CreateBuilder<DividedAlternative>();
        for (int i = 0; i < played.Length; i++)
        {
            others.AddRange(Others(divisions[i], side, (long)played[i].FirstStep * envelope.StepFrames, tracks.Count));
            tracks.AddRange(Tracks(divisions[i], side, sheet, (long)played[i].FirstStep * envelope.StepFrames, tracks.Count));
        }

        SideDivision weakest = divisions.MinBy(d => d.Confidence)!;
        return new DivideResult(
            weakest.Method, weakest.Confidence, tracks.ToImmutable(),
            [
                finding,
                .. divisions.SelectMany((d, i) => d.Findings.Select(f => Moved(f, "", (double)((long)played[i].FirstStep * envelope.StepFrames) / envelope.SampleRateHz))),
            ])
        {
            Alternatives = others.ToImmutable(),
        };
    }

    /// <summary>The sheet's tracks dealt to the stretches, where there are two and that fits best; each stretch by itself otherwise.</summary>
    private static ImmutableArray<SideDivision> Shared(LevelEnvelope envelope, ImmutableArray<GrooveStretch> played, SideSheet? side, DivisionSettings settings, DiscHeard heard)
    {
        LevelEnvelope[] pieces = [.. played.Select(groove => envelope.Slice(groove.FirstStep, groove.EndStep))];
        DivisionGuide[] untold = [.. played.Select(groove => heard.After((double)groove.FirstStep * envelope.StepFrames / envelope.SampleRateHz).Guide(null))];
        ImmutableArray<SideDivision> alone = [.. pieces.Zip(untold, (piece, guide) => SideDivider.Divide(piece, settings, guide))];
        if (played.Length != 2 || side is null || side.Tracks.Length < 2 || alone.Sum(d => d.Tracks.Length) == side.Tracks.Length)
        {
            return alone;
        }

        return Enumerable.Range(1, side.Tracks.Length - 1)
            .Select(n => ImmutableArray.Create(
                SideDivider.Divide(pieces[0], settings, untold[0] with { TrackCount = n, LengthsSeconds = side.LengthsSeconds[..n] }),
                SideDivider.Divide(pieces[1], settings, untold[1] with { TrackCount = side.Tracks.Length - n, LengthsSeconds = side.LengthsSeconds[n..] })))
            .OrderBy(both => both.Sum(d => d.Findings.Length)).ThenByDescending(both => both.Min(d => d.Confidence)).First();
    }

    private static ImmutableArray<DividedTrack> Tracks(SideDivision division, string side, RecordSheet? sheet, long firstFrame, int numbersBefore)
    {
        SideSheet? its = sheet?.Side(SideLetter.Of(side[0]));
        return
        [
            .. division.Tracks.Select(t => new DividedTrack(
                side, numbersBefore + t.Number, its is not null && numbersBefore + t.Number <= its.Tracks.Length ? its.Tracks[numbersBefore + t.Number - 1].Title : null,
                firstFrame + t.FirstFrame, firstFrame + t.EndFrame, t.Confidence)),
        ];
    }

    private static ImmutableArray<DividedAlternative> Others(SideDivision division, string side, long firstFrame, int numbersBefore) =>
        [.. division.OtherPlaces.Select(p => new DividedAlternative(side, numbersBefore + p.InsteadOf, firstFrame + p.EndFrame, firstFrame + p.StartFrame, p.Confidence, p.Why))];

    private static Finding Moved(Finding finding, string prefix, double seconds) => finding with
    {
        Message = prefix + finding.Message,
        Spans = [.. finding.Spans.Select(s => new SecondsSpan(s.StartSeconds + seconds, s.EndSeconds + seconds))],
    };
}
