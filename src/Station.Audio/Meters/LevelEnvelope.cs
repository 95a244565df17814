using System.Buffers.Binary;
using System.Security.Cryptography;

namespace Station.Audio.Meters;

/// <summary>
/// The course of a capture's level in steps of 20 ms, per channel: mean square in the groove band (<see cref="GrooveBand"/>), mean square
/// of everything (DC included), sample peak, and mean square in the subsonic band (<see cref="SubsonicBand"/>); and of both channels the course of the
/// spectrum (<see cref="EnvelopeBands"/>). 2.7 kB a second of stereo. Enough
/// to divide a side, and to find where the stylus was lifted, without reading the capture again.
/// </summary>
/// <remarks>
/// Written form, little-endian: 8 bytes <c>"SDLEVEL\n"</c>; int32 version 3; int32 sample rate, Hz; int32 frames of a step; int32 channels;
/// int64 total frames; then for each channel the band powers, wide powers, peaks and subsonic powers of all steps as float32; then <see cref="EnvelopeBands.OffsetDb"/> as float32 and for each plane and band of <see cref="EnvelopeBands"/> the
/// codes of all steps, a byte each; then the SHA-256 of
/// everything before it. Version 2 is the same without the bands, version 1 without the subsonic powers as well; they are still read, and written where no more was measured. The number of steps is total frames ÷ step frames, rounded up.
/// </remarks>
public sealed class LevelEnvelope
{
    private const int VersionWithoutSubsonics = 1;
    private const int VersionWithoutBands = 2;
    private const int Version = 3;
    private const int HeaderBytes = 32;
    private const int SeriesWithoutSubsonics = 3;
    private const int AllSeries = 4;

    // The longest capture taken is a configuration value; this only bounds what a damaged header can claim: two days in steps of 20 ms.
    private const int MaxSteps = 2 * 24 * 3600 * StepLength.StepsPerSecond;

    private static readonly byte[] Magic = "SDLEVEL\n"u8.ToArray();

    private readonly float[][] _series;
    private readonly int _perChannel;

    internal LevelEnvelope(int sampleRateHz, int stepFrames, long totalFrames, float[][] series, bool hasSubsonics, EnvelopeBands? bands = null)
    {
        Bands = hasSubsonics ? bands : null;
        _perChannel = hasSubsonics ? AllSeries : SeriesWithoutSubsonics;
        SampleRateHz = sampleRateHz;
        StepFrames = stepFrames;
        TotalFrames = totalFrames;
        Channels = series.Length / _perChannel;
        Steps = series[0].Length;
        _series = series;
    }

    /// <summary>Frames per second.</summary>
    public int SampleRateHz { get; }

    /// <summary>Frames of one step.</summary>
    public int StepFrames { get; }

    /// <summary>1 or 2.</summary>
    public int Channels { get; }

    /// <summary>Steps, a shorter last one included.</summary>
    public int Steps { get; }

    /// <summary>Frames of the capture.</summary>
    public long TotalFrames { get; }

    /// <summary>The course of the spectrum; null for envelopes that were written before it was measured.</summary>
    public EnvelopeBands? Bands { get; }

    /// <summary>False for envelopes that were written before subsonic powers were measured.</summary>
    public bool HasSubsonics => _perChannel == AllSeries;

    /// <summary>Puts an envelope together from its series, without subsonic powers.</summary>
    /// <param name="sampleRateHz">Frames per second, above 0.</param>
    /// <param name="stepFrames">Frames of one step, above 0.</param>
    /// <param name="totalFrames">Frames of the capture; with <paramref name="stepFrames"/> it gives the number of steps.</param>
    /// <param name="channels">For each channel band power, wide power and peak, one value a step.</param>
    /// <exception cref="ArgumentException">The series do not fit each other.</exception>
    public static LevelEnvelope FromSeries(
        int sampleRateHz,
        int stepFrames,
        long totalFrames,
        params IReadOnlyList<(float[] BandPower, float[] WidePower, float[] Peak)> channels)
    {
        ArgumentNullException.ThrowIfNull(channels);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(sampleRateHz);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(stepFrames);
        ArgumentOutOfRangeException.ThrowIfNegative(totalFrames);
        long steps = StepsOf(totalFrames, stepFrames);
        float[][] series = [.. channels.SelectMany(channel => new[] { channel.BandPower, channel.WidePower, channel.Peak })];
        if (channels.Count is not (1 or 2) || series.Any(values => values.Length != steps))
        {
            throw new ArgumentException($"One or two channels of {steps} steps are needed.", nameof(channels));
        }

        return new LevelEnvelope(sampleRateHz, stepFrames, totalFrames, [.. series.Select(values => values.ToArray())], hasSubsonics: false);
    }

    /// <summary>Puts envelopes of one rate and as many channels one behind the other; each begins with a step of its own.</summary>
    /// <remarks>
    /// A part's shorter last step counts as a whole one, so the total is that of whole steps: where a step lies in its part says
    /// <see cref="StepFrames"/> times the steps of the parts before it.
    /// </remarks>
    /// <exception cref="ArgumentException">None, or they differ in rate or channels.</exception>
    public static LevelEnvelope Join(IReadOnlyList<LevelEnvelope> parts)
    {
        ArgumentNullException.ThrowIfNull(parts);
        if (parts.Count == 0 || parts.Any(part => part.SampleRateHz != parts[0].SampleRateHz || part.StepFrames != parts[0].StepFrames || part.Channels != parts[0].Channels))
        {
            throw new ArgumentException("Envelopes of one sample rate and as many channels are needed.", nameof(parts));
        }

        if (parts.Count == 1)
        {
            return parts[0];
        }

        bool hasSubsonics = parts.All(part => part.HasSubsonics);
        int perChannel = hasSubsonics ? AllSeries : SeriesWithoutSubsonics;
        float[][] series =
        [
            .. Enumerable.Range(0, parts[0].Channels).SelectMany(channel => Enumerable.Range(0, perChannel).Select(
                kind => parts.SelectMany(part => part._series[(channel * part._perChannel) + kind]).ToArray())),
        ];
        return new LevelEnvelope(parts[0].SampleRateHz, parts[0].StepFrames, (long)series[0].Length * parts[0].StepFrames, series, hasSubsonics, JoinBands(parts));
    }

    /// <summary>Some steps as an envelope of their own.</summary>
    /// <param name="firstStep">First step.</param>
    /// <param name="endStep">The step after the last, at most <see cref="Steps"/>.</param>
    public LevelEnvelope Slice(int firstStep, int endStep)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(firstStep);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(endStep, Steps);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(firstStep, endStep);
        long first = (long)firstStep * StepFrames;
        long end = Math.Min(TotalFrames, (long)endStep * StepFrames);
        return new LevelEnvelope(SampleRateHz, StepFrames, Math.Max(0, end - first), [.. _series.Select(values => values[firstStep..endStep])], HasSubsonics, Bands?.Slice(firstStep, endStep));
    }

    /// <summary>Mean square of each step in the groove band; full scale 1.0.</summary>
    /// <param name="channel">0 = left or only, 1 = right.</param>
    public ReadOnlySpan<float> BandPower(int channel) => Series(channel, 0);

    /// <summary>Mean square of each step, unfiltered; full scale 1.0.</summary>
    /// <param name="channel">0 = left or only, 1 = right.</param>
    public ReadOnlySpan<float> WidePower(int channel) => Series(channel, 1);

    /// <summary>Largest magnitude of each step; full scale 1.0.</summary>
    /// <param name="channel">0 = left or only, 1 = right.</param>
    public ReadOnlySpan<float> Peak(int channel) => Series(channel, 2);

    /// <summary>Mean square of each step in the subsonic band; full scale 1.0. Empty when none was measured.</summary>
    /// <param name="channel">0 = left or only, 1 = right.</param>
    public ReadOnlySpan<float> SubsonicPower(int channel) => HasSubsonics ? Series(channel, 3) : [];

    /// <summary>Writes the envelope.</summary>
    /// <param name="output">Written from its position; not flushed or closed.</param>
    public void Write(Stream output)
    {
        ArgumentNullException.ThrowIfNull(output);
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        Span<byte> header = stackalloc byte[HeaderBytes];
        Magic.CopyTo(header);
        BinaryPrimitives.WriteInt32LittleEndian(header[8..], Bands is not null ? Version : HasSubsonics ? VersionWithoutBands : VersionWithoutSubsonics);
        BinaryPrimitives.WriteInt32LittleEndian(header[12..], SampleRateHz);
        BinaryPrimitives.WriteInt32LittleEndian(header[16..], StepFrames);
        BinaryPrimitives.WriteInt32LittleEndian(header[20..], Channels);
        BinaryPrimitives.WriteInt64LittleEndian(header[24..], TotalFrames);
        hash.AppendData(header);
        output.Write(header);
        byte[] buffer = new byte[Steps * sizeof(float)];
        foreach (float[] values in _series)
        {
            for (int i = 0; i < values.Length; i++)
            {
                BinaryPrimitives.WriteSingleLittleEndian(buffer.AsSpan(i * sizeof(float)), values[i]);
            }

            hash.AppendData(buffer);
            output.Write(buffer);
        }

        if (Bands is not null)
        {
            BinaryPrimitives.WriteSingleLittleEndian(header, Bands.OffsetDb);
            hash.AppendData(header[..sizeof(float)]);
            output.Write(header[..sizeof(float)]);
        }

        foreach (byte[] codes in Bands?.Series ?? [])
        {
            hash.AppendData(codes);
            output.Write(codes);
        }

        output.Write(hash.GetHashAndReset());
    }

    /// <summary>Reads an envelope back.</summary>
    /// <param name="input">Read from its position to the envelope's end.</param>
    /// <exception cref="InvalidDataException">It is not an envelope, of another version, cut or altered; the message says which and where.</exception>
    public static LevelEnvelope Read(Stream input)
    {
        ArgumentNullException.ThrowIfNull(input);
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        byte[] header = new byte[HeaderBytes];
        ReadWhole(input, header, 0);
        hash.AppendData(header);
        if (!header.AsSpan(0, Magic.Length).SequenceEqual(Magic))
        {
            throw new InvalidDataException("Level envelope, byte 0: the opening mark is missing; this is another kind of file.");
        }

        int version = BinaryPrimitives.ReadInt32LittleEndian(header.AsSpan(8));
        if (version is not (Version or VersionWithoutBands or VersionWithoutSubsonics))
        {
            throw new InvalidDataException($"Level envelope, byte 8: a version from {VersionWithoutSubsonics} to {Version} expected, {version} found.");
        }

        int sampleRateHz = BinaryPrimitives.ReadInt32LittleEndian(header.AsSpan(12));
        int stepFrames = BinaryPrimitives.ReadInt32LittleEndian(header.AsSpan(16));
        int channels = BinaryPrimitives.ReadInt32LittleEndian(header.AsSpan(20));
        long totalFrames = BinaryPrimitives.ReadInt64LittleEndian(header.AsSpan(24));
        if (sampleRateHz <= 0 || stepFrames <= 0 || channels is not (1 or 2) || totalFrames < 0 || StepsOf(totalFrames, stepFrames) > MaxSteps)
        {
            throw new InvalidDataException(
                $"Level envelope, byte 12: impossible header ({sampleRateHz} Hz, {stepFrames} frames a step, {channels} channels, {totalFrames} frames).");
        }

        int steps = (int)StepsOf(totalFrames, stepFrames);
        float[][] series = new float[channels * (version == VersionWithoutSubsonics ? SeriesWithoutSubsonics : AllSeries)][];
        long position = HeaderBytes;
        for (int i = 0; i < series.Length; i++)
        {
            series[i] = ReadSeries(input, steps, hash, ref position);
        }

        EnvelopeBands? bands = null;
        if (version == Version)
        {
            byte[] offset = new byte[sizeof(float)];
            ReadWhole(input, offset, position);
            hash.AppendData(offset);
            position += offset.Length;
            byte[][] codes = new byte[channels * EnvelopeBands.Count][];
            for (int i = 0; i < codes.Length; i++)
            {
                codes[i] = ReadCodes(input, steps, hash, ref position);
            }

            bands = new EnvelopeBands(codes, BinaryPrimitives.ReadSingleLittleEndian(offset));
        }

        byte[] expected = new byte[SHA256.HashSizeInBytes];
        ReadWhole(input, expected, position);
        if (!hash.GetHashAndReset().AsSpan().SequenceEqual(expected))
        {
            throw new InvalidDataException($"Level envelope, byte {position}: the checksum does not match; the file was altered.");
        }

        return new LevelEnvelope(sampleRateHz, stepFrames, totalFrames, series, hasSubsonics: version != VersionWithoutSubsonics, bands);
    }

    private static long StepsOf(long totalFrames, int stepFrames) => (totalFrames / stepFrames) + (totalFrames % stepFrames == 0 ? 0 : 1);

    // In portions, so that a short file with a long claim never asks for the memory it claims.
    private static float[] ReadSeries(Stream input, int steps, IncrementalHash hash, ref long position)
    {
        const int Portion = 16_384;
        List<float> values = new(Math.Min(steps, Portion));
        byte[] buffer = new byte[Portion * sizeof(float)];
        while (values.Count < steps)
        {
            Span<byte> bytes = buffer.AsSpan(0, Math.Min(Portion, steps - values.Count) * sizeof(float));
            ReadWhole(input, bytes, position);
            hash.AppendData(bytes);
            position += bytes.Length;
            for (int i = 0; i < bytes.Length; i += sizeof(float))
            {
                values.Add(BinaryPrimitives.ReadSingleLittleEndian(bytes[i..]));
            }
        }

        return [.. values];
    }

    private static byte[] ReadCodes(Stream input, int steps, IncrementalHash hash, ref long position)
    {
        const int Portion = 65_536;
        byte[] codes = [];
        for (int at = 0; at < steps; at = codes.Length)
        {
            Array.Resize(ref codes, Math.Min(steps, at + Portion));
            ReadWhole(input, codes.AsSpan(at), position);
            position += codes.Length - at;
        }

        hash.AppendData(codes);
        return codes;
    }

    private static EnvelopeBands? JoinBands(IReadOnlyList<LevelEnvelope> parts) => parts.All(part => part.Bands is not null)
        ? EnvelopeBands.Join([.. parts.Select(part => part.Bands!)])
        : null;

    private static void ReadWhole(Stream input, Span<byte> target, long position)
    {
        int read = input.ReadAtLeast(target, target.Length, throwOnEndOfStream: false);
        if (read < target.Length)
        {
            throw new InvalidDataException($"Level envelope, byte {position + read}: the file ends here; {target.Length - read} more bytes expected.");
        }
    }

    private ReadOnlySpan<float> Series(int channel, int series)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(channel);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(channel, Channels);
        return _series[(channel * _perChannel) + series];
    }
}
