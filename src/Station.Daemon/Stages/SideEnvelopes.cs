using Station.Archive.Durability;
using Station.Audio.Meters;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Stages;

/// <summary>The level of a side over time, as the inspection left it; measured again from the archived master when that is gone.</summary>
/// <remarks>A held take keeps no working files. When it is to be divided again, the master holds the same samples and gives the same envelope.</remarks>
internal sealed class SideEnvelopes(WorkingFiles working, MasterDecoder masters, MeterSettings meterSettings, StationFolders folders)
{
    /// <exception cref="InvalidDataException">The envelope, or the master, is damaged.</exception>
    /// <exception cref="IOException">Neither can be read.</exception>
    public LevelEnvelope Of(Job job, InspectResult inspected)
    {
        string path = working.PathOf(job, inspected.Envelope.Path);
        if (!File.Exists(path) && job.Archived() is { } archived)
        {
            LevelEnvelope again = Measure(Path.Combine(folders.Absolute(archived.Bag), archived.Master), inspected.DamageKnown);
            using var written = new MemoryStream();
            again.Write(written);
            DurableFile.CreateFolder(Path.GetDirectoryName(path)!);
            DurableFile.WriteNew(path, written.ToArray());       // for the picture that follows
            return again;
        }

        using FileStream file = File.OpenRead(path);
        return LevelEnvelope.Read(file);
    }

    private LevelEnvelope Measure(string master, bool damageKnown)
    {
        SideMeters? meters = null;
        masters.Read(master, damageKnown, format => meters = new SideMeters(format, meterSettings), block =>
        {
            meters!.Add(block);
            return true;
        });
        return meters!.Finish().Envelope;
    }
}
