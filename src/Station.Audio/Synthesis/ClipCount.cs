using System.Collections.Immutable;

namespace Station.Audio.Synthesis;

/// <summary>Counts what the converter clips, before it does.</summary>
internal sealed class ClipCount(Converter converter)
{
    private readonly ImmutableArray<TrueClipRun>.Builder _runs = ImmutableArray.CreateBuilder<TrueClipRun>();
    private readonly ChannelCount[] _channels = [new(), new()];

    public ImmutableArray<TrueClipRun> Runs => _runs.ToImmutable();

    public void Add(SideChannel channel, long firstFrame, ReadOnlySpan<float> samples)
    {
        ChannelCount count = _channels[(int)channel];
        for (int i = 0; i < samples.Length; i++)
        {
            int sign = converter.ClipSign(samples[i]);
            if (sign == 0 && count.Sign == 0)
            {
                continue;
            }

            if (sign != count.Sign)
            {
                Close(channel, count);
                count.Sign = sign;
                count.RunStart = firstFrame + i;
                count.RunFrames = 0;
            }

            if (sign != 0)
            {
                count.RunFrames++;
                count.Samples++;
                count.First = count.First < 0 ? firstFrame + i : count.First;
                count.Last = firstFrame + i;
                count.Highest = Math.Max(count.Highest, Math.Abs(samples[i]));
            }
        }
    }

    public void Finish()
    {
        Close(SideChannel.Left, _channels[0]);
        Close(SideChannel.Right, _channels[1]);
    }

    public ImmutableArray<long> Samples => [_channels[0].Samples, _channels[1].Samples];

    public ImmutableArray<long> RunCount => [_channels[0].Runs, _channels[1].Runs];

    public TrueFault? Fault(SideChannel channel)
    {
        ChannelCount count = _channels[(int)channel];
        return count.Samples == 0
            ? null
            : new TrueFault(
                TrueFaultKind.ConverterClip, channel, count.First, count.Last - count.First + 1, 20 * Math.Log10(count.Highest), count.Samples);
    }

    private void Close(SideChannel channel, ChannelCount count)
    {
        if (count.Sign == 0)
        {
            return;
        }

        count.Runs++;
        if (_runs.Count < SideTruth.LongestList)
        {
            _runs.Add(new TrueClipRun(channel, count.RunStart, count.RunFrames, count.Sign > 0));
        }

        count.Sign = 0;
    }

    private sealed class ChannelCount
    {
        public int Sign;
        public long RunStart;
        public int RunFrames;
        public long Samples;
        public long Runs;
        public long First = -1;
        public long Last;
        public double Highest;
    }
}
