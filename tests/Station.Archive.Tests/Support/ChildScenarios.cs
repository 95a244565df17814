using System.Globalization;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Events;

namespace Station.Archive.Tests.Support;

/// <summary>What the child processes do. Exit code 0: done; 3: refused by the system, the error on standard error; 9: the result is not what it must be.</summary>
internal static class ChildScenarios
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 14, 12, 0, 0, TimeSpan.Zero);

    public static int Run(string[] args)
    {
        try
        {
            return args switch
            {
                ["archive", var root] => Archive(root),
                ["lock", var path] => HoldLock(path),
                ["write", var path, var count] => WriteNew(path, int.Parse(count, CultureInfo.InvariantCulture)),
                ["move", var from, var to] => Move(from, to),
                ["append", var path] => Append(path),
                _ => throw new ArgumentException("unknown scenario"),
            };
        }
        catch (PosixException e)
        {
            Console.Error.WriteLine(e.Message);
            return 3;
        }
    }

    /// <summary>
    /// One capture into the archive in the order the specification gives: clean up, stage, publish or seal, read back, record, only then remove the source.
    /// Running it again after any death must end in the same state.
    /// </summary>
    private static int Archive(string root)
    {
        string archive = Path.Combine(root, "archive");
        string source = Path.Combine(root, "working", "HL-0031-A.wav");
        string bag = Path.Combine(archive, "HL-0031-A-c1");
        string log = Path.Combine(archive, "events.jsonl");
        DurableFile.CreateFolder(archive);
        RemoveTemporary(archive);
        if (Directory.Exists(bag))
        {
            BagWriter.Seal(bag);
        }
        else
        {
            string staging = DurableFile.StagingPathFor(bag);
            BagFile[] payload = [BagFile.FromFile("side.wav", source), BagFile.FromBytes("sub/notes.txt", "Low Water\n"u8.ToArray())];
            BagWriter.Stage(staging, payload, [BagFile.FromBytes("README.txt", "A bag.\n"u8.ToArray())], SampleBag.Info, CancellationToken.None);
            BagWriter.Publish(staging, bag);
        }

        if (!BagReader.Check(bag, BagDepth.FullFromDisk).IsPristine)
        {
            return 9;
        }

        // The id belongs to the deed, so a second telling is known for one.
        Guid id = Guid.Parse("019cec37-b600-7000-8000-000000000001");
        EventLog.Append(log, new RecordEvent(id, Noon, "ingestion", "test", "HL-0031", "c1", null, "HL-0031-A-c1", "success", null, null));
        DurableFile.Delete(source);
        return 0;
    }

    private static void RemoveTemporary(string folder)
    {
        foreach (string entry in Directory.GetFileSystemEntries(folder).Where(entry => DurableFile.IsTemporaryName(Path.GetFileName(entry))))
        {
            if (Directory.Exists(entry))
            {
                DurableFile.DeleteFolder(entry);
            }
            else
            {
                DurableFile.Delete(entry);
            }
        }
    }

    private static int HoldLock(string path)
    {
        using InstanceLock? held = InstanceLock.TryAcquire(path, "child " + Environment.ProcessId.ToString(CultureInfo.InvariantCulture), out string? heldBy);
        Console.Out.WriteLine(held is null ? "refused " + heldBy : "held");
        Console.Out.Flush();
        _ = Console.In.ReadToEnd();
        return held is null ? 3 : 0;
    }

    private static int WriteNew(string path, int count)
    {
        DurableFile.WriteNew(path, stream =>
        {
            byte[] block = new byte[1024];
            for (int written = 0; written < count; written += block.Length)
            {
                stream.Write(block);
            }
        });
        return 0;
    }

    private static int Move(string from, string to)
    {
        if (File.Exists(from))
        {
            DurableFile.MoveAcross(from, to);
        }

        RemoveTemporary(Path.GetDirectoryName(to)!);
        return 0;
    }

    private static int Append(string path)
    {
        EventLog.Append(path, new RecordEvent(Guid.CreateVersion7(Noon), Noon, "fixity check", "test", "HL-0031", null, null, null, "success", null, null));
        return 0;
    }
}
