using System.Collections.Immutable;
using NAudio.Wave;

namespace Station.Audio.Synthesis;

/// <summary>
/// A capture of a record side made from nothing but a plan: music, groove and faults, with the truth about them. Streams any length
/// in constant memory; the samples depend on the plan alone, not on how they are read.
/// </summary>
/// <remarks>
/// Making one renders the music of every track once, to measure its peak; and the whole side once more when something may reach full
/// scale, to count what clips. Not safe for use by several threads at once.
/// </remarks>
public sealed class SynthesisedSide : ISampleProvider
{
    private readonly SideSetup _setup;
    private readonly Converter _converter;
    private readonly float[] _block = new float[2 * SideRenderer.BlockFrames];
    private SideRenderer? _reading;
    private int _blockAt;
    private int _blockEnd;

    /// <summary>Prepares a side.</summary>
    /// <exception cref="ArgumentException">The plan cannot be made into a side; the message names the property.</exception>
    public SynthesisedSide(SidePlan plan)
    {
        ArgumentNullException.ThrowIfNull(plan);
        _setup = new SideSetup(plan);
        _converter = new Converter(plan.BitsPerSample);
        WaveFormat = WaveFormat.CreateIeeeFloatWaveFormat(plan.SampleRateHz, 2);
        Truth = TruthOf(_setup, _converter);
    }

    /// <summary>What was asked for.</summary>
    public SidePlan Plan => _setup.Plan;

    /// <summary>What is really there.</summary>
    public SideTruth Truth { get; }

    /// <summary>Stereo 32-bit float at the plan's rate.</summary>
    public WaveFormat WaveFormat { get; }

    /// <summary>Next samples, interleaved: what the converter hands on before rounding, so within its full-scale codes.</summary>
    /// <returns>Samples read; less than asked only at the end, 0 after it.</returns>
    public int Read(Span<float> buffer)
    {
        _reading ??= new SideRenderer(_setup);
        int done = 0;
        while (done < buffer.Length)
        {
            if (_blockAt == _blockEnd)
            {
                _blockEnd = NextBlock(_reading, _block);
                _blockAt = 0;
                if (_blockEnd == 0)
                {
                    break;
                }
            }

            int take = Math.Min(buffer.Length - done, _blockEnd - _blockAt);
            _block.AsSpan(_blockAt, take).CopyTo(buffer[done..]);
            _blockAt += take;
            done += take;
        }

        return done;
    }

    /// <summary>Writes the whole side as a WAV file at the plan's depth, from the start whatever was read before. The stream need not seek.</summary>
    /// <exception cref="IOException">The stream refused a write.</exception>
    public void WriteWav(Stream output)
    {
        ArgumentNullException.ThrowIfNull(output);
        output.Write(WavHeader.For(Truth.Frames, Plan.SampleRateHz, Plan.BitsPerSample));
        WriteWords(output);
    }

    /// <summary>Writes the samples alone, as they stand in the WAV file.</summary>
    internal void WriteWords(Stream output)
    {
        var renderer = new SideRenderer(_setup);
        var dither = new SeededRandom(Plan.Seed, RandomStream.Dither);
        float[] block = new float[_block.Length];
        byte[] words = new byte[64 * block.Length * (Plan.BitsPerSample / 8)];
        int pending = 0;
        for (int count = NextBlock(renderer, block); count > 0; count = NextBlock(renderer, block))
        {
            pending += _converter.Quantise(block.AsSpan(0, count), words.AsSpan(pending), ref dither);
            if (words.Length - pending < block.Length * (Plan.BitsPerSample / 8))
            {
                output.Write(words.AsSpan(0, pending));
                pending = 0;
            }
        }

        output.Write(words.AsSpan(0, pending));
    }

    private int NextBlock(SideRenderer renderer, float[] block)
    {
        if (!renderer.Next())
        {
            return 0;
        }

        ReadOnlySpan<float> left = renderer.Left;
        ReadOnlySpan<float> right = renderer.Right;
        for (int i = 0; i < left.Length; i++)
        {
            block[2 * i] = _converter.Clip(left[i]);
            block[(2 * i) + 1] = _converter.Clip(right[i]);
        }

        return 2 * left.Length;
    }

    private static SideTruth TruthOf(SideSetup setup, Converter converter)
    {
        SideTimeline timeline = setup.Timeline;
        double rate = setup.Plan.SampleRateHz;
        var clips = new ClipCount(converter);
        if (setup.MayClip)
        {
            var renderer = new SideRenderer(setup);
            while (renderer.Next())
            {
                clips.Add(SideChannel.Left, renderer.BlockStart, renderer.Left);
                clips.Add(SideChannel.Right, renderer.BlockStart, renderer.Right);
            }

            clips.Finish();
        }

        long tickCount = 0;
        ImmutableArray<TrueTick>.Builder ticks = ImmutableArray.CreateBuilder<TrueTick>();
        var schedule = new TickSchedule(setup.Plan, timeline);
        for (; schedule.TryNext(out Tick tick); tickCount++)
        {
            if (tickCount < SideTruth.LongestList)
            {
                ticks.Add(new TrueTick(tick.Frame, 20 * Math.Log10(Math.Abs(tick.Peak) * setup.LevelControl)));
            }
        }

        ImmutableArray<long>.Builder thumps = ImmutableArray.CreateBuilder<long>();
        for (int turn = 0; timeline.ClosedTurn(turn) < timeline.Lift; turn++)
        {
            thumps.Add(timeline.ClosedTurn(turn));
        }

        return new SideTruth(
            [.. setup.Surveys.Select((survey, i) => survey.Truth(setup, i))],
            [.. Faults(setup, clips)],
            timeline.NeedleDown / rate,
            timeline.RunOut / rate,
            timeline.Lift / rate,
            timeline.Frames)
        {
            ThumpFrames = thumps.ToImmutable(),
            ClippedSamples = clips.Samples,
            ClipRunCount = clips.RunCount,
            ClipRuns = clips.Runs,
            TickCount = tickCount,
            Ticks = ticks.ToImmutable(),
        };
    }

    private static IEnumerable<TrueFault> Faults(SideSetup setup, ClipCount clips)
    {
        SidePlan plan = setup.Plan;
        long frames = setup.Timeline.Frames;
        double controlDb = 20 * Math.Log10(setup.LevelControl);
        if (clips.Fault(SideChannel.Left) is { } left)
        {
            yield return left;
        }

        if (clips.Fault(SideChannel.Right) is { } right)
        {
            yield return right;
        }

        if (plan.DeadChannel is { } dead)
        {
            yield return new TrueFault(TrueFaultKind.DeadChannel, dead, 0, frames, plan.ElectronicsNoiseDbfs + controlDb, frames);
        }

        if (plan.ReversedChannel is { } reversed)
        {
            yield return new TrueFault(TrueFaultKind.ReversedPolarity, reversed, 0, frames, 0, frames);
        }

        if (plan.Hum is { } hum)
        {
            yield return new TrueFault(TrueFaultKind.Hum, hum.Channel, 0, frames, hum.LevelDbfs + controlDb, frames);
        }
    }
}
