using Station.Audio.Meters.Skips;
using Station.Audio.Meters.Turns;
using Station.Audio.Reading;

namespace Station.Audio.Meters;

/// <summary>The meters that look for faults: everything the judge needs beyond levels, fed step by step by <see cref="SideMeters"/>.</summary>
internal sealed class FaultMeters
{
    private readonly int _channels;
    private readonly FlatTopMeter[] _flatTops;
    private readonly AmplitudeMeter[] _amplitudes;
    private readonly TopBandMeter _topBands;
    private readonly WiringMeter? _wiring;                   // these two: null for one channel
    private readonly ContactMeter? _contacts;
    private readonly NoiseMeter _noise;
    private readonly LossMeter _losses;
    private readonly DiscMeter _disc;
    private readonly TurnMeter _turns;
    private readonly SkipMeter _skips;

    /// <param name="format">The capture's format; one or two channels.</param>
    /// <param name="lowRateHz">Rate of the low stream.</param>
    /// <param name="spectra">Spectra of the steps.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public FaultMeters(CaptureFormat format, double lowRateHz, StepSpectra spectra, int expectedSteps)
    {
        int rateHz = format.SampleRateHz;
        _channels = format.Channels;
        _flatTops = [.. Enumerable.Range(0, _channels).Select(channel => new FlatTopMeter(channel, rateHz))];
        _amplitudes = [.. Enumerable.Range(0, _channels).Select(channel => new AmplitudeMeter(channel, rateHz))];
        _topBands = new TopBandMeter(_channels, expectedSteps);
        _wiring = _channels == 2 ? new WiringMeter(format, expectedSteps) : null;
        _contacts = _channels == 2 ? new ContactMeter(rateHz, expectedSteps) : null;
        _noise = new NoiseMeter(spectra, expectedSteps);
        _losses = new LossMeter(rateHz, _channels);
        _disc = new DiscMeter(rateHz, _channels, lowRateHz, expectedSteps);
        _turns = new TurnMeter(rateHz, _channels, Math.Max(0, format.Frames));
        _skips = new SkipMeter(rateHz, lowRateHz, expectedSteps);
    }

    /// <summary>Holds the channels' own words against each other.</summary>
    public void Compare(in CaptureBlock block) => _wiring?.Compare(block);

    /// <summary>Adds one channel of a step.</summary>
    /// <param name="channel">0 or 1.</param>
    /// <param name="samples">The whole step, interleaved and finite.</param>
    /// <param name="firstFrame">Its first frame.</param>
    /// <param name="peaks">Largest magnitudes of this channel in equal pieces of the step.</param>
    public void AddChannel(int channel, ReadOnlySpan<float> samples, long firstFrame, ReadOnlySpan<float> peaks)
    {
        _flatTops[channel].Add(samples, _channels, firstFrame, peaks);
        _amplitudes[channel].Add(samples, _channels);
    }

    /// <summary>Adds a step.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    /// <param name="pieces">Its sums.</param>
    /// <param name="low">The same, mixed to one channel at the low rate.</param>
    /// <param name="bandCross">Mean product of left and right in the groove band.</param>
    /// <param name="unit">Whether the spectra of eight steps are there.</param>
    public void AddStep(ReadOnlySpan<float> samples, StepPieces pieces, ReadOnlySpan<float> low, double bandCross, bool unit)
    {
        _topBands.Add(samples);
        _noise.Add(samples, unit);
        _losses.Add(samples);
        _contacts?.Add(samples);
        _disc.Add(samples, low);
        _skips.Add(pieces, low);
        _turns.Add(samples);
        _wiring?.Add(pieces, bandCross);
    }

    /// <summary>Ends the pass.</summary>
    /// <param name="levels">What was measured of levels; envelope, outline and offsets are used.</param>
    /// <returns>The same with what was found here.</returns>
    public SideReading Finish(SideReading levels) => levels with
    {
        FlatTops = [.. _flatTops.SelectMany(meter => meter.Finish())],
        Amplitudes = [.. _amplitudes.Select((meter, channel) => meter.Finish(levels.DcOffset[channel]))],
        TopBands = _topBands.Finish(),
        Losses = _losses.Finish(),
        Contacts = _contacts?.Finish() ?? new ContactReading(),
        Turns = _turns.Finish(),
        Skips = _skips.Finish(levels.Outline),
        Wiring = _wiring?.Finish(levels.Envelope, levels.Outline),
        Noise = NoiseFinder.Find(_noise, levels.Outline, levels.SampleRateHz),
        Disc = _disc.Finish(levels.Outline, levels.Envelope),
    };
}
