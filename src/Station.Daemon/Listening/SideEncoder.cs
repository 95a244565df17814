using System.Collections.Immutable;
using Station.Audio.Encoding;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Jobs;

namespace Station.Daemon.Listening;

/// <summary>
/// Encodes the tracks of one capture from its archived master, on all cores: the tracks are dealt to lanes of about equal length,
/// and each lane decodes the master once and feeds its tracks' encoders and loudness meters as it goes.
/// </summary>
/// <remarks>Decoding once per lane costs about a second of CPU on a 22-minute side; one lane would leave the other cores idle behind a single MP3 encoder.</remarks>
internal sealed class SideEncoder(MasterDecoder decoder, CodecTools codecs, ListeningOptions options)
{
    /// <summary>Encodes every track into <paramref name="folder"/>.</summary>
    /// <param name="masters">The master in its bag; for a take in parts those of all parts, of one format, which follow each other without pause.</param>
    /// <param name="tracks">In order, not overlapping.</param>
    /// <param name="lanes">1 and up; the number of cores.</param>
    /// <param name="making">What is done to the samples; null: nothing.</param>
    /// <exception cref="EncoderFailedException">An encoder failed; its output was removed.</exception>
    public ImmutableArray<TrackCopies> Encode(ImmutableArray<MasterFile> masters, ImmutableArray<DividedTrack> tracks, string folder, int lanes, CancellationToken cancellationToken, CopyMaking? making = null)
    {
        var copies = new TrackCopies[tracks.Length];
        ImmutableArray<ImmutableArray<int>> dealt = TrackLanes.Deal([.. tracks.Select(t => t.EndFrame - t.StartFrame)], lanes);
        Parallel.ForEach(
            dealt,
            new ParallelOptions { MaxDegreeOfParallelism = Math.Max(1, dealt.Length), CancellationToken = cancellationToken },
            lane =>
            {
                foreach ((int index, TrackCopies made) in EncodeLane(masters, tracks, lane, folder, making ?? CopyMaking.Untouched, cancellationToken))
                {
                    copies[index] = made;
                }
            });
        return [.. copies];
    }

    private List<(int Index, TrackCopies Copies)> EncodeLane(
        ImmutableArray<MasterFile> masters, ImmutableArray<DividedTrack> tracks, ImmutableArray<int> lane, string folder, CopyMaking making,
        CancellationToken cancellationToken)
    {
        var done = new List<(int Index, TrackCopies Copies)>();
        int next = 0;
        TrackEncoder? open = null;
        CaptureFormat? format = null;
        try
        {
            long before = 0;
            foreach (MasterFile master in masters)
            {
                long frames = 0;
                decoder.Read(master, f => format = SameFormat(format, f, master.Path), block =>
                {
                    cancellationToken.ThrowIfCancellationRequested();
                    frames = block.FirstFrame + block.Frames;
                    long first = before + block.FirstFrame;
                    int from = 0;
                    while (next < lane.Length && from < block.Frames)
                    {
                        DividedTrack track = tracks[lane[next]];
                        long start = Math.Max(track.StartFrame, first + from);
                        long end = Math.Min(track.EndFrame, first + block.Frames);
                        if (start >= first + block.Frames)
                        {
                            return true;
                        }

                        if (start < end)
                        {
                            open ??= new TrackEncoder(codecs, options, format!, making, Path.Combine(folder, $"{track.Side}-{track.Number:00}"));
                            open.Write(block, (int)(start - first), (int)(end - start));
                        }

                        from = (int)(end - first);
                        if (end == track.EndFrame)
                        {
                            done.Add((lane[next], open!.Finish()));
                            open.Dispose();
                            open = null;
                            next++;
                        }
                    }

                    return next < lane.Length;
                });
                if (next == lane.Length)
                {
                    break;
                }

                before += frames;
            }

            if (next < lane.Length)
            {
                throw new InvalidDataException(
                    $"{Path.GetFileName(masters[^1].Path)} ended before track {tracks[lane[next]].Side}{tracks[lane[next]].Number}, which ends at frame {tracks[lane[next]].EndFrame}.");
            }

            return done;
        }
        finally
        {
            open?.Dispose();
        }
    }

    private static CaptureFormat SameFormat(CaptureFormat? first, CaptureFormat found, string masterPath) =>
        first is null || (first.SampleRateHz == found.SampleRateHz && first.Channels == found.Channels && first.Words == found.Words && first.BitsPerSample == found.BitsPerSample)
            ? found
            : throw new InvalidDataException(
                $"{masterPath}: {first.SampleRateHz} Hz, {first.Channels} channel(s), {first.BitsPerSample} bit expected as in the part before, {found.SampleRateHz} Hz, {found.Channels} channel(s), {found.BitsPerSample} bit found.");
}

/// <param name="Files">One file per format.</param>
/// <param name="LoudnessLufs">Integrated loudness of the track; null when nothing in it passes the gate.</param>
/// <param name="SamplePeak">Largest sample, linear, full scale 1.0.</param>
/// <param name="SampleRateHz">Of the master.</param>
/// <param name="Blocks">How often each loudness occurs.</param>
internal sealed record TrackCopies(ImmutableArray<TrackCopy> Files, double? LoudnessLufs, float SamplePeak, int SampleRateHz, LoudnessBlocks Blocks);

/// <param name="Format"><c>flac</c>, <c>mp3</c>, <c>opus</c> or <c>ogg</c>; also the extension.</param>
internal sealed record TrackCopy(string Format, string Path);
