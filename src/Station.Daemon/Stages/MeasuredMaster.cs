using System.Globalization;
using Station.Audio.Meters;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Stages;

/// <summary>
/// Measures an archived capture's master again, for what only the inspection left in the working folder, which is gone once a job ended: a
/// capture that is filed under another name is divided anew.
/// </summary>
internal sealed class MeasuredMaster(WorkingFiles working, MasterDecoder decoder, IStationStore store, MeterSettings settings, StationFolders folders)
{
    /// <summary>Makes the envelope, and the programme's fingerprint, where they are missing and a bag holds the capture.</summary>
    /// <exception cref="InvalidDataException">The master doesn't decode, or isn't as long as it was.</exception>
    public async Task EnsureAsync(Job job, CancellationToken cancellationToken)
    {
        InspectResult inspected = job.Inspected()!;
        if (job.Archived() is not { } archived || working.Has(job, inspected.Envelope))
        {
            return;
        }

        SideMeters? meters = null;
        decoder.Read(Path.Combine(folders.Absolute(archived.Bag), archived.Master), format => meters = new SideMeters(format, settings), block =>
        {
            cancellationToken.ThrowIfCancellationRequested();
            meters!.Add(block);
            return true;
        });
        SideReading reading = meters!.Finish();
        if (reading.Frames != inspected.Frames)
        {
            throw new InvalidDataException(string.Create(
                CultureInfo.InvariantCulture, $"{archived.Bag}: the master has {reading.Frames} frames, the inspection counted {inspected.Frames}; check the bag with stationd verify."));
        }

        working.Prepare(job);
        using (FileStream envelope = File.Create(working.PathOf(job, inspected.Envelope.Path)))
        {
            reading.Envelope.Write(envelope);
        }

        await store.SaveProgrammeAsync(job.Capture.Id, reading.Programme!.ToBytes(), cancellationToken);
    }
}
