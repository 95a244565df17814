using System.Collections.Concurrent;
using System.Collections.Immutable;
using System.Runtime.ExceptionServices;
using Station.Audio.Encoding;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Jobs;

namespace Station.Daemon.Listening;

/// <summary>
/// Encodes the tracks of one capture from its archived master, as many at once as there are cores, the longest first: each is read from the master by itself and fed to its encoders
/// and its loudness meter.
/// </summary>
internal sealed class SideEncoder(MasterDecoder decoder, CodecTools codecs, ListeningOptions options)
{
    /// <summary>Encodes every track into <paramref name="folder"/>.</summary>
    /// <param name="masters">The master in its bag; for a take in parts those of all parts, of one format, which follow each other without pause.</param>
    /// <param name="tracks">In order, not overlapping.</param>
    /// <param name="atOnce">1 and up; the number of cores.</param>
    /// <param name="making">What is done to the samples; null: nothing.</param>
    /// <exception cref="EncoderFailedException">An encoder failed; its output was removed.</exception>
    public ImmutableArray<TrackCopies> Encode(
        ImmutableArray<PartSound> masters, ImmutableArray<DividedTrack> tracks, string folder, int atOnce, CancellationToken cancellationToken, CopyMaking? making = null)
    {
        var copies = new TrackCopies[tracks.Length];
        try
        {
            Parallel.ForEach(
                Partitioner.Create(Enumerable.Range(0, tracks.Length).OrderByDescending(i => tracks[i].EndFrame - tracks[i].StartFrame), EnumerablePartitionerOptions.NoBuffering),
                new ParallelOptions { MaxDegreeOfParallelism = atOnce, CancellationToken = cancellationToken },
                i => copies[i] = Encode(masters, tracks[i], folder, making ?? CopyMaking.Untouched, cancellationToken));
        }
        catch (AggregateException several)
        {
            // What becomes of the job follows from what happened: a full disk passes, whatever it is wrapped in. The others failed of the same cause or were broken off.
            ExceptionDispatchInfo.Throw(several.InnerExceptions[0]);
        }

        return [.. copies];
    }

    private TrackCopies Encode(ImmutableArray<PartSound> masters, DividedTrack track, string folder, CopyMaking making, CancellationToken cancellationToken)
    {
        TrackEncoder? encoder = null;
        CaptureFormat? format = null;
        try
        {
            long from = TrackEncoder.ReadFrom(track);
            long to = TrackEncoder.ReadTo(track);
            long reached = from;
            long before = 0;
            foreach (PartSound part in masters)
            {
                long start = before;
                if (start + part.Frames > from && start < to)
                {
                    decoder.ReadSpan(part.Master, Math.Max(0, from - start), Math.Min(part.Frames, to - start), f => format = SameFormat(format, f, part.Master.Path), block =>
                    {
                        cancellationToken.ThrowIfCancellationRequested();
                        encoder ??= new TrackEncoder(codecs, options, format!, making, track, from, Path.Combine(folder, $"{track.Side}-{track.Number:00}"));
                        encoder.Write(block, start + block.FirstFrame);
                        reached = start + block.FirstFrame + block.Frames;
                        return true;
                    });
                }

                before += part.Frames;
            }

            return reached >= track.EndFrame
                ? encoder!.Finish()
                : throw new InvalidDataException(
                    $"{Path.GetFileName(masters[^1].Master.Path)} ended before track {track.Side}{track.Number}, which ends at frame {track.EndFrame}.");
        }
        finally
        {
            encoder?.Dispose();
        }
    }

    private static CaptureFormat SameFormat(CaptureFormat? first, CaptureFormat found, string masterPath) =>
        first is null || (first.SampleRateHz == found.SampleRateHz && first.Channels == found.Channels && first.Words == found.Words && first.BitsPerSample == found.BitsPerSample)
            ? found
            : throw new InvalidDataException(
                $"{masterPath}: {first.SampleRateHz} Hz, {first.Channels} channel(s), {first.BitsPerSample} bit expected as in the part before, {found.SampleRateHz} Hz, {found.Channels} channel(s), {found.BitsPerSample} bit found.");
}

/// <summary>The sound of a capture, or of one part of a take.</summary>
/// <param name="Frames">How many it has.</param>
internal readonly record struct PartSound(MasterFile Master, long Frames);

/// <param name="Files">One file per format.</param>
/// <param name="LoudnessLufs">Integrated loudness of the track; null when nothing in it passes the gate.</param>
/// <param name="SamplePeak">Largest sample, linear, full scale 1.0.</param>
/// <param name="SampleRateHz">Of the master.</param>
/// <param name="Blocks">How often each loudness occurs.</param>
internal sealed record TrackCopies(ImmutableArray<TrackCopy> Files, double? LoudnessLufs, float SamplePeak, int SampleRateHz, LoudnessBlocks Blocks);

/// <param name="Format"><c>flac</c>, <c>mp3</c>, <c>opus</c> or <c>ogg</c>; also the extension.</param>
internal sealed record TrackCopy(string Format, string Path);
