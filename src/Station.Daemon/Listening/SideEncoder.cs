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
    /// <param name="masterPath">The master in its bag.</param>
    /// <param name="damageKnown">The master was damaged when it was dropped, and is read as it was inspected then.</param>
    /// <param name="tracks">In order, not overlapping.</param>
    /// <param name="lanes">1 and up; the number of cores.</param>
    /// <exception cref="EncoderFailedException">An encoder failed; its output was removed.</exception>
    public ImmutableArray<TrackCopies> Encode(
        string masterPath, bool damageKnown, ImmutableArray<DividedTrack> tracks, string folder, int lanes, CancellationToken cancellationToken)
    {
        var copies = new TrackCopies[tracks.Length];
        ImmutableArray<ImmutableArray<int>> dealt = TrackLanes.Deal([.. tracks.Select(t => t.EndFrame - t.StartFrame)], lanes);
        Parallel.ForEach(
            dealt,
            new ParallelOptions { MaxDegreeOfParallelism = Math.Max(1, dealt.Length), CancellationToken = cancellationToken },
            lane =>
            {
                foreach ((int index, TrackCopies made) in EncodeLane(masterPath, damageKnown, tracks, lane, folder, cancellationToken))
                {
                    copies[index] = made;
                }
            });
        return [.. copies];
    }

    private List<(int Index, TrackCopies Copies)> EncodeLane(
        string masterPath, bool damageKnown, ImmutableArray<DividedTrack> tracks, ImmutableArray<int> lane, string folder, CancellationToken cancellationToken)
    {
        var done = new List<(int Index, TrackCopies Copies)>();
        int next = 0;
        TrackEncoder? open = null;
        CaptureFormat? format = null;
        try
        {
            decoder.Read(masterPath, damageKnown, f => format = f, block =>
            {
                cancellationToken.ThrowIfCancellationRequested();
                int from = 0;
                while (next < lane.Length && from < block.Frames)
                {
                    DividedTrack track = tracks[lane[next]];
                    long start = Math.Max(track.StartFrame, block.FirstFrame + from);
                    long end = Math.Min(track.EndFrame, block.FirstFrame + block.Frames);
                    if (start >= block.FirstFrame + block.Frames)
                    {
                        return true;
                    }

                    if (start < end)
                    {
                        open ??= new TrackEncoder(codecs, options, format!, Path.Combine(folder, $"{track.Side}-{track.Number:00}"));
                        open.Write(block, (int)(start - block.FirstFrame), (int)(end - start));
                    }

                    from = (int)(end - block.FirstFrame);
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
            if (next < lane.Length)
            {
                throw new InvalidDataException(
                    $"{Path.GetFileName(masterPath)} ended before track {tracks[lane[next]].Side}{tracks[lane[next]].Number}, which ends at frame {tracks[lane[next]].EndFrame}.");
            }

            return done;
        }
        finally
        {
            open?.Dispose();
        }
    }
}

/// <param name="Files">One file per format.</param>
/// <param name="LoudnessLufs">Integrated loudness of the track; null when nothing in it passes the gate.</param>
/// <param name="SamplePeak">Largest sample, linear, full scale 1.0.</param>
internal sealed record TrackCopies(ImmutableArray<TrackCopy> Files, double? LoudnessLufs, float SamplePeak);

/// <param name="Format"><c>flac</c> or <c>mp3</c>; also the extension.</param>
internal sealed record TrackCopy(string Format, string Path);
