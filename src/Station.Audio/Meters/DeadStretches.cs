using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Finds stretches in which a channel has nothing of its own.</summary>
/// <remarks>
/// <para>
/// What a dead channel still gives is the noise of the electronics and a little of the other channel that leaks in behind the cartridge. A
/// pickup's own crosstalk lies at −20 to −35 dB (good cartridges 25 to 35 dB: common practice, no source), so where the other channel is loud a
/// live channel is moved by it, hard-panned music or not: <see cref="LeakDb"/> leaves that 3 dB.
/// </para>
/// <para>
/// Level alone doesn't tell a dead channel from a silent cut on an ideal pickup: that one still has its groove's noise. Whether the channel has it is
/// measured here (<see cref="DeadStretch.NoiseBelowDb"/>) and judged by the rule.
/// </para>
/// </remarks>
internal sealed class DeadStretches
{
    private const double LeakDb = -38;

    // The electronics' noise wavers by as much over a fifth of a second.
    private const double NoiseSpread = 2;                    // 3 dB

    // A block tells only where the pickup's own crosstalk would lift a live channel clear of the electronics.
    private const double TellingDb = 34;
    private const double LeastTellingPower = 1e-7;           // −70 dB: below, there is no music to miss

    private const int LeastTelling = 5 * 5;                  // five seconds of blocks
    private const double LeastDeadShare = 0.97;
    private const int LeastSteps = 15 * StepLength.StepsPerSecond;

    private readonly LevelEnvelope _envelope;
    private readonly SideOutline _outline;
    private readonly ChannelBlocks _blocks;

    private DeadStretches(LevelEnvelope envelope, SideOutline outline, ChannelBlocks blocks)
    {
        _envelope = envelope;
        _outline = outline;
        _blocks = blocks;
    }

    /// <summary>Finds them in both channels.</summary>
    public static ImmutableArray<DeadStretch> Of(LevelEnvelope envelope, SideOutline outline, ChannelBlocks blocks)
    {
        DeadStretches stretches = new(envelope, outline, blocks);
        return [.. stretches.InChannel(0), .. stretches.InChannel(1)];
    }

    private IEnumerable<DeadStretch> InChannel(int channel)
    {
        float[] own = _blocks.Power(channel).ToArray();
        float[] other = _blocks.Power(1 - channel).ToArray();
        double rest = ChannelBlocks.Quantile(own, 0.02);
        double leak = Math.Pow(10, LeakDb / 10);
        double telling = Math.Max(LeastTellingPower, rest * Math.Pow(10, TellingDb / 10));
        List<(int Block, bool Dead)> told = [];
        for (int block = 0; block < own.Length; block++)
        {
            if (other[block] >= telling)
            {
                told.Add((block, own[block] <= (NoiseSpread * rest) + (leak * other[block])));
            }
        }

        foreach ((int first, int last) in Longest(told))
        {
            yield return Stretch(channel, own, other, told, first, last);
        }
    }

    // Indices into what tells. From a dead block to a dead block; two live ones in a row, or more than a few in all, end it.
    private static IEnumerable<(int First, int Last)> Longest(List<(int Block, bool Dead)> told)
    {
        int first = -1;
        int last = -1;
        int dead = 0;
        for (int i = 0; i <= told.Count; i++)
        {
            if (i < told.Count && told[i].Dead)
            {
                first = first < 0 ? i : first;
                last = i;
                dead++;
            }
            else if (first >= 0 && (i == told.Count || i - last > 1))
            {
                if (dead >= LeastTelling && dead >= LeastDeadShare * (last - first + 1)
                    && (told[last].Block - told[first].Block) * ChannelBlocks.Steps >= LeastSteps)
                {
                    yield return (first, last);
                }

                (first, last, dead) = (-1, -1, 0);
            }
        }
    }

    private DeadStretch Stretch(int channel, float[] own, float[] other, List<(int Block, bool Dead)> told, int first, int last)
    {
        bool fromStart = first == 0;
        bool toEnd = last == told.Count - 1;
        int firstBlock = fromStart ? 0 : told[first].Block;
        int endBlock = toEnd ? own.Length : told[last].Block + 1;
        double ownSum = 0;
        double otherSum = 0;
        for (int i = first; i <= last; i++)
        {
            ownSum += own[told[i].Block];
            otherSum += other[told[i].Block];
        }

        int firstStep = fromStart ? 0 : Edge(channel, firstBlock * ChannelBlocks.Steps);
        int endStep = toEnd ? _envelope.Steps : endBlock * ChannelBlocks.Steps;
        return new DeadStretch(
            channel, firstStep, endStep, ownSum > 0 ? 10 * Math.Log10(ownSum / otherSum) : null, fromStart && toEnd,
            NoiseBelow(channel, firstStep, endStep, fromStart && toEnd));
    }

    // Between the last block that tells and the first dead one the channel died: where it was last well above what is left of it.
    private int Edge(int channel, int step)
    {
        ReadOnlySpan<float> own = _envelope.BandPower(channel);
        int to = Math.Min(own.Length, step + (5 * StepLength.StepsPerSecond));
        float[] after = own[step..to].ToArray();
        Array.Sort(after);
        float limit = 4 * after[after.Length / 2];
        int edge = step;
        while (edge > 0 && step - edge < 5 * StepLength.StepsPerSecond && own[edge - 1] <= limit)
        {
            edge--;
        }

        return edge;
    }

    /// <summary>How far the channel's noise lies below the groove's: the other channel's in the same bare groove; without bare groove in the stretch its own before.</summary>
    private double? NoiseBelow(int channel, int firstStep, int endStep, bool whole)
    {
        double? own = Noise(channel, firstStep, endStep);
        if (own is not null || HasGroove(firstStep, endStep))
        {
            return own is double level ? Noise(1 - channel, firstStep, endStep) - level : null;
        }

        ReadOnlySpan<float> powers = _envelope.BandPower(channel);
        double rest = ChannelBlocks.Quantile(powers[firstStep..endStep], 0.05);
        if (rest <= 0)
        {
            return null;
        }

        if (!whole && Noise(channel, 0, firstStep) is double before)
        {
            return before - (10 * Math.Log10(rest));
        }

        return 10 * Math.Log10(ChannelBlocks.Quantile(_envelope.BandPower(1 - channel)[firstStep..endStep], 0.05) / rest);
    }

    private bool HasGroove(int firstStep, int endStep) => _outline.Groove.Any(span => span.FirstStep >= firstStep && span.EndStep <= endStep);

    private double? Noise(int channel, int firstStep, int endStep)
    {
        List<float> powers = [];
        foreach (GrooveSpan span in _outline.Groove)
        {
            if (span.FirstStep >= firstStep && span.EndStep <= endStep)
            {
                powers.AddRange(_envelope.BandPower(channel)[span.FirstStep..span.EndStep]);
            }
        }

        float median = ChannelBlocks.Quantile([.. powers], 0.5);
        return median > 0 ? 10 * Math.Log10(median) : null;
    }
}
