using System.Collections.Immutable;
using Station.Audio.Findings;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>One finding's flag.</summary>
/// <param name="Number">From 1, as in the list below the picture and on the page.</param>
/// <param name="X">Where its pole stands; null when the finding has no place.</param>
/// <param name="Row">0 is next to the axis.</param>
/// <param name="Bars">The finding's places, each wide enough to be seen, close ones joined.</param>
internal sealed record PictureFlag(int Number, Finding Finding, double? X, int Row, ImmutableArray<(double From, double To)> Bars);

/// <summary>Puts flags into rows so that no two cover each other. Pure.</summary>
internal static class PictureFlags
{
    public const int Rows = 5;
    private const double JoinWithin = 1.0;
    private const double LeastWidth = 1.6;

    /// <param name="xOf">From seconds to the picture's units.</param>
    /// <param name="width">Of a flag.</param>
    /// <param name="right">No flag reaches beyond this.</param>
    public static ImmutableArray<PictureFlag> Place(IReadOnlyList<Finding> findings, Func<double, double> xOf, double width, double right)
    {
        var flags = ImmutableArray.CreateBuilder<PictureFlag>(findings.Count);
        double[] taken = new double[Rows];
        Array.Fill(taken, double.NegativeInfinity);
        PictureFlag[] open =
        [
            .. findings.Select((f, i) =>
            {
                ImmutableArray<(double, double)> bars = Bars(f, xOf);
                return new PictureFlag(i + 1, f, bars.IsEmpty ? null : bars[0].Item1, 0, bars);
            }),
        ];
        foreach (PictureFlag flag in open.OrderBy(f => f.X ?? double.PositiveInfinity).ThenBy(f => f.Number))
        {
            if (flag.X is not { } x)
            {
                flags.Add(flag);
                continue;
            }

            // The first row with room; when all are full the last one, which then overlaps: the list below still has every number.
            double start = Math.Min(x, right - width);
            int row = Array.FindIndex(taken, end => end <= start);
            row = row < 0 ? Rows - 1 : row;
            taken[row] = Math.Max(start + width, flag.Bars[^1].To) + 1;
            flags.Add(flag with { Row = row });
        }

        return flags.ToImmutable();
    }

    private static ImmutableArray<(double From, double To)> Bars(Finding finding, Func<double, double> xOf)
    {
        var bars = ImmutableArray.CreateBuilder<(double From, double To)>();
        foreach (SecondsSpan span in finding.Spans.Where(s => double.IsFinite(s.StartSeconds) && double.IsFinite(s.EndSeconds)).OrderBy(s => s.StartSeconds))
        {
            double from = xOf(span.StartSeconds);
            double to = Math.Max(from + LeastWidth, xOf(span.EndSeconds));
            if (bars.Count > 0 && from - bars[^1].To <= JoinWithin)
            {
                bars[^1] = (bars[^1].From, Math.Max(bars[^1].To, to));
            }
            else
            {
                bars.Add((from, to));
            }
        }

        return bars.ToImmutable();
    }
}
