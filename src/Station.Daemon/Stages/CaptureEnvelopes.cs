using Station.Audio.Meters;
using Station.Daemon.Jobs;

namespace Station.Daemon.Stages;

/// <summary>The level of a capture: as the inspection left it, or measured again from the master when that file is gone, as after a take was held.</summary>
/// <remarks>The master holds the same samples and gives the same envelope.</remarks>
internal sealed class CaptureEnvelopes(WorkingFiles working, TakeSources sources, MasterDecoder decoder, MeterSettings meterSettings)
{
    /// <exception cref="InvalidDataException">The kept envelope is damaged, or the master doesn't decode.</exception>
    /// <exception cref="FileNotFoundException">Neither envelope nor sound is there.</exception>
    public LevelEnvelope Of(Job job, CancellationToken cancellationToken)
    {
        string kept = working.PathOf(job, job.Inspected()!.Envelope.Path);
        if (File.Exists(kept))
        {
            using FileStream file = File.OpenRead(kept);
            return LevelEnvelope.Read(file);
        }

        SideMeters? meters = null;
        decoder.Read(sources.Of(job), format => meters = SideMeters.OfLevels(format, meterSettings), block =>
        {
            cancellationToken.ThrowIfCancellationRequested();
            meters!.Add(block);
            return true;
        });
        return meters!.Finish().Envelope;
    }
}
