using System.Security.Cryptography;
using Station.Archive.Durability;

namespace Station.Daemon.Tests.Intake.SlowWriters;

/// <summary>
/// A program that brings one file into the inbox in steps with pauses between them, in one of the ways programs do. It follows the rule: pauses of at
/// most 0.8 of the quiet time, and of at most 0.8 of the longer patience while the file is empty or says itself that it is not finished.
/// </summary>
internal sealed class SlowWriter(int number, string inbox, string elsewhere, TimeProvider clock, Random random)
{
    private const double Share = 0.8;
    private static readonly DateTime[] OddTimes = [new(1970, 1, 1, 0, 0, 1, DateTimeKind.Utc), new(2099, 12, 31, 23, 59, 59, DateTimeKind.Utc)];

    private readonly List<string> _whole = [];
    private string _path = "";

    public static string[] Patterns { get; } =
    [
        "appends to a header that is filled in last", "copies", "copies and puts an old time on it", "fills in the lengths again and again", "writes something unknown",
        "writes under a temporary name and renames", "truncates and writes again", "replaces by rename", "fills a file of full length, its time put back",
        "links a whole file in", "links a file in and writes it under the other name", "removes it and begins again", "begins with an empty file", "gives it another name",
        "turns a small file into a large one",
    ];

    public string Pattern { get; private set; } = "";

    public string FileName => Path.GetFileName(_path);

    /// <summary>Its last write is done.</summary>
    public bool Finished { get; set; }

    public bool Taken { get; set; }

    /// <summary>SHA-256 of the file as it was meant to be, the last version last.</summary>
    public IReadOnlyList<string> Whole => _whole;

    /// <summary>The writer's life: each step is done when it is asked for; what comes back is the pause before the next, seconds.</summary>
    public IEnumerable<double> Live(string pattern)
    {
        Pattern = pattern;
        SoundBytes sound = Sound();
        _path = Path.Combine(inbox, $"W-{number:0000}-A.{sound.Extension}");
        return pattern switch
        {
            "appends to a header that is filled in last" => Records(sound),
            "copies" => Copies(sound, at: null),
            "copies and puts an old time on it" => Copies(sound, OddTimes[random.Next(OddTimes.Length)]),
            "fills in the lengths again and again" => Updates(),
            "writes something unknown" => Unknown(),
            "writes under a temporary name and renames" => RenamesIn(sound),
            "truncates and writes again" => Truncates(sound),
            "replaces by rename" => Replaces(sound),
            "fills a file of full length, its time put back" => Fills(sound),
            "links a whole file in" => LinksWhole(sound),
            "links a file in and writes it under the other name" => LinksAndWrites(sound),
            "removes it and begins again" => Removes(sound),
            "begins with an empty file" => BeginsEmpty(sound),
            "gives it another name" => GivesAnotherName(sound),
            "turns a small file into a large one" => TurnsLarge(),
            _ => throw new ArgumentOutOfRangeException(nameof(pattern), pattern, "no such pattern"),
        };
    }

    private double Short() => InboxFixture.QuietSeconds * Share * (random.Next(3) == 0 ? 1 : random.NextDouble());

    private double Long() => InboxFixture.UnfinishedQuietSeconds * Share * (random.Next(4) == 0 ? 1 : random.NextDouble());

    private SoundBytes Sound() => SoundBytes.Of(SoundBytes.Kinds[random.Next(SoundBytes.Kinds.Length)], 8 * random.Next(20, 400), random);

    private IEnumerable<double> Records(SoundBytes sound)
    {
        byte[] begun = sound.Begun(sound.Extension is "wav" or "aiff" && random.Next(2) == 0 ? (byte)0xFF : (byte)0);
        Write(begun.AsSpan(0, sound.HeaderBytes));
        yield return Long();
        foreach (Range piece in Pieces(sound.HeaderBytes, begun.Length))
        {
            Append(begun.AsSpan()[piece]);
            yield return Long();
        }

        foreach ((int at, int length) in random.Next(2) == 0 ? sound.Lengths : [.. sound.Lengths.Reverse()])
        {
            Patch(at, sound.Whole.AsSpan(at, length));
            yield return Short();
        }

        Done(sound.Whole);
    }

    /// <summary>A copier writes the bytes from first to last; the header is whole from the beginning, and for all containers but FLAC says more than there is.</summary>
    private IEnumerable<double> Copies(SoundBytes sound, DateTime? at)
    {
        Write(sound.Whole.AsSpan(0, sound.HeaderBytes));
        yield return Between(sound, sound.HeaderBytes);
        foreach (Range piece in Pieces(sound.HeaderBytes, sound.Whole.Length))
        {
            Append(sound.Whole.AsSpan()[piece]);
            yield return Between(sound, piece.End.Value);
        }

        if (at is { } time)
        {
            File.SetLastWriteTimeUtc(_path, time);
        }

        Done(sound.Whole);
    }

    private double Between(SoundBytes sound, int written) => sound.Extension != "flac" && sound.Whole.Length - written > 8 ? Long() : Short();

    /// <summary>A careful recorder: after each piece the header fits what is there.</summary>
    private IEnumerable<double> Updates()
    {
        SoundBytes sound = SoundBytes.Of("wav", 8, random);
        Write(sound.Whole);
        yield return Short();
        for (int piece = random.Next(2, 8); piece > 0; piece--)
        {
            byte[] more = new byte[8 * random.Next(1, 100)];
            random.NextBytes(more);
            sound = sound with { Whole = [.. sound.Whole, .. more] };
            Append(more);
            yield return Long();       // says less than there is
            foreach ((int at, int length) in sound.Lengths)
            {
                BitConverter.TryWriteBytes(sound.Whole.AsSpan(at, length), sound.Whole.Length - at - length);
                Patch(at, sound.Whole.AsSpan(at, length));
                yield return Short();
            }
        }

        Done(sound.Whole);
    }

    private IEnumerable<double> Unknown()
    {
        byte[] bytes = new byte[random.Next(100, 4000)];
        random.NextBytes(bytes);
        bytes[0] = (byte)'?';
        Write([]);
        yield return Long();
        foreach (Range piece in Pieces(0, bytes.Length))
        {
            Append(bytes.AsSpan()[piece]);
            yield return Short();
        }

        Done(bytes);
    }

    private IEnumerable<double> RenamesIn(SoundBytes sound)
    {
        string final = _path;
        string[] names = [$"{final}.part", $"{final}.tmp", Path.Combine(inbox, "." + Path.GetFileName(final)), $"{final}~", $"{final}.crdownload"];
        _path = names[random.Next(names.Length)];
        Write([]);
        foreach (Range piece in Pieces(0, sound.Whole.Length))
        {
            Append(sound.Whole.AsSpan()[piece]);
            yield return Long() * 3;       // as long as it likes
        }

        if (random.Next(2) == 0)
        {
            File.SetLastWriteTimeUtc(_path, OddTimes[random.Next(OddTimes.Length)]);
        }

        DurableFile.RenameReplace(_path, final);
        _path = final;
        Done(sound.Whole);
    }

    private IEnumerable<double> Truncates(SoundBytes sound)
    {
        Write(Sound().Whole);
        yield return Short();
        Write([]);
        yield return Long();
        foreach (double pause in Records(sound))
        {
            yield return pause;
        }
    }

    private IEnumerable<double> Replaces(SoundBytes sound)
    {
        DateTime time = clock.GetUtcNow().UtcDateTime;
        for (int version = random.Next(1, 4); version >= 0; version--)
        {
            string beside = Path.Combine(elsewhere, FileName);
            File.WriteAllBytes(beside, sound.Whole);
            File.SetLastWriteTimeUtc(beside, time);         // the same for all versions, and often the same length
            DurableFile.RenameReplace(beside, _path);
            if (version == 0)
            {
                break;
            }

            yield return Short();
            random.NextBytes(sound.Whole.AsSpan(sound.HeaderBytes));
        }

        Done(sound.Whole);
    }

    /// <summary>Like a program that maps the file: the length is right from the beginning, the header as well, and the time does not tell of the writes.</summary>
    private IEnumerable<double> Fills(SoundBytes sound)
    {
        byte[] empty = [.. sound.Whole];
        empty.AsSpan(sound.HeaderBytes).Clear();
        Write(empty);
        DateTime time = File.GetLastWriteTimeUtc(_path);
        yield return Short();
        foreach (Range piece in Pieces(sound.HeaderBytes, sound.Whole.Length))
        {
            long before = SafeOpen.TryLook(_path)!.Value.ChangedNanoseconds;
            Patch(piece.Start.Value, sound.Whole.AsSpan()[piece]);
            do
            {
                File.SetLastWriteTimeUtc(_path, time);
            }
            while (SafeOpen.TryLook(_path)!.Value.ChangedNanoseconds == before);        // kernels of before 6.13 count in ticks of some milliseconds
            yield return Short();
        }

        Done(sound.Whole);
    }

    private IEnumerable<double> LinksWhole(SoundBytes sound)
    {
        string other = Path.Combine(elsewhere, FileName);
        File.WriteAllBytes(other, sound.Whole);
        Link(other);
        Done(sound.Whole);
        yield break;
    }

    private IEnumerable<double> LinksAndWrites(SoundBytes sound)
    {
        string final = _path;
        string other = Path.Combine(elsewhere, FileName);
        _path = other;
        bool linked = false;
        foreach (double pause in Records(sound))
        {
            if (!linked)
            {
                _path = final;
                Link(other);
                _path = other;
                linked = true;
            }

            yield return pause;
        }

        _path = final;
    }

    private IEnumerable<double> Removes(SoundBytes sound)
    {
        Write(sound.Whole);
        yield return Short();
        File.Delete(_path);
        yield return Long();
        foreach (double pause in Copies(sound, at: null))
        {
            yield return pause;
        }
    }

    private IEnumerable<double> BeginsEmpty(SoundBytes sound)
    {
        Write([]);
        yield return Long();
        Write(sound.Whole);
        Done(sound.Whole);
    }

    private IEnumerable<double> GivesAnotherName(SoundBytes sound)
    {
        string final = _path;
        _path = Path.Combine(inbox, $"X-{number:0000}-A.{sound.Extension}");
        Write(sound.Whole);
        yield return Short();
        DurableFile.RenameReplace(_path, final);
        _path = final;
        yield return Short();
        byte[] whole = [.. sound.Whole, 0, 0];
        Append([0, 0]);
        Done(whole);
    }

    /// <summary>Recorders that may pass 4 GiB begin with a JUNK chunk of the right length and turn it into ds64 at the end (EBU Tech 3306, chapter 4).</summary>
    private IEnumerable<double> TurnsLarge()
    {
        SoundBytes large = SoundBytes.Of("rf64", 8 * random.Next(20, 400), random);
        byte[] begun = [.. large.Whole];
        "RIFF\0\0\0\0"u8.CopyTo(begun);
        "JUNK"u8.CopyTo(begun.AsSpan(12));
        begun.AsSpan(20, 28).Clear();
        begun.AsSpan(76, 4).Clear();
        _path = Path.ChangeExtension(_path, "wav");
        Write(begun.AsSpan(0, large.HeaderBytes));
        yield return Long();
        foreach (Range piece in Pieces(large.HeaderBytes, begun.Length))
        {
            Append(begun.AsSpan()[piece]);
            yield return Long();
        }

        Patch(12, large.Whole.AsSpan(12, 36));
        yield return Long();
        Patch(76, large.Whole.AsSpan(76, 4));
        yield return Long();
        Patch(0, large.Whole.AsSpan(0, 8));
        Done(large.Whole);
    }

    private Range[] Pieces(int from, int to)
    {
        int[] cuts = [from, .. Enumerable.Range(0, random.Next(1, 7)).Select(_ => random.Next(from, to)).Order(), to];
        return [.. cuts.Zip(cuts.Skip(1)).Where(c => c.Second > c.First).Select(c => c.First..c.Second)];
    }

    private void Write(ReadOnlySpan<byte> bytes)
    {
        File.WriteAllBytes(_path, bytes);
        Touch();
    }

    private void Append(ReadOnlySpan<byte> bytes)
    {
        using (FileStream file = new(_path, FileMode.Append, FileAccess.Write, FileShare.ReadWrite))
        {
            file.Write(bytes);
        }

        Touch();
    }

    private void Patch(int at, ReadOnlySpan<byte> bytes)
    {
        using (FileStream file = new(_path, FileMode.Open, FileAccess.Write, FileShare.ReadWrite))
        {
            file.Position = at;
            file.Write(bytes);
        }

        Touch();
    }

    /// <summary>The file system's clock goes with the test's.</summary>
    private void Touch() => File.SetLastWriteTimeUtc(_path, clock.GetUtcNow().UtcDateTime);

    private void Link(string other) => DurableFile.LinkOrCopy(other, _path);

    private void Done(byte[] whole)
    {
        _whole.Add(Convert.ToHexString(SHA256.HashData(whole)));
        Finished = true;
    }
}
