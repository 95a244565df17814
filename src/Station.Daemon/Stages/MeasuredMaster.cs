using System.Globalization;
using Station.Audio.Meters;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Stages;

/// <summary>
/// Measures a capture's sound again, from its bag or from the dropped file, for what only the inspection left in the working folder, which is gone once
/// a job ended: a capture that is filed under another name, or whose sheet came late, is divided anew.
/// </summary>
internal sealed class MeasuredMaster(WorkingFiles working, TakeSources sources, MasterDecoder decoder, IStationStore store, MeterSettings settings)
{
    /// <summary>Makes the envelope, and the programme's fingerprint, where they are missing.</summary>
    /// <exception cref="InvalidDataException">The master doesn't decode, or isn't as long as it was.</exception>
    public async Task EnsureAsync(Job job, CancellationToken cancellationToken)
    {
        InspectResult inspected = job.Inspected()!;
        if (working.Has(job, inspected.Envelope))
        {
            return;
        }

        SideMeters? meters = null;
        MasterFile master = sources.Of(job);
        decoder.Read(master, format => meters = SideMeters.OfLevels(format, settings), block =>
        {
            cancellationToken.ThrowIfCancellationRequested();
            meters!.Add(block);
            return true;
        });
        SideReading reading = meters!.Finish();
        if (reading.Frames != inspected.Frames)
        {
            throw new InvalidDataException(string.Create(
                CultureInfo.InvariantCulture, $"{master.Path}: the master has {reading.Frames} frames, the inspection counted {inspected.Frames}; check the bag with stationd verify."));
        }

        working.Prepare(job);
        using (FileStream envelope = File.Create(working.PathOf(job, inspected.Envelope.Path)))
        {
            reading.Envelope.Write(envelope);
        }

        await store.SaveProgrammeAsync(job.Capture.Id, reading.Programme!.ToBytes(), cancellationToken);
    }
}
