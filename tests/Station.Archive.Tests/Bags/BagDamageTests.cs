using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Bags;

/// <summary>
/// Seeded damages: each is found and the right file named; as many undamaged bags are never blamed. A hundred of each in the suite; <c>tests/damage-campaign.sh</c> sets
/// how many, and from which seed.
/// </summary>
public sealed class BagDamageTests(BagDamageTests.CleanBag clean) : IClassFixture<BagDamageTests.CleanBag>, IDisposable
{
    private static readonly int Seed = Setting("STATION_DAMAGE_SEED", 20260314);
    private static readonly int Damages = Setting("STATION_DAMAGES", 100);

    private static readonly string[] Payload = ["data/master.flac", "data/original-header.bin", "data/inspection.json", "data/pictures/side A.svg"];
    private static readonly string[] Tags = ["README.txt", "bagit.txt", "bag-info.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt"];

    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    public static TheoryData<int> Numbers => [.. Enumerable.Range(0, Damages)];

    [Theory]
    [MemberData(nameof(Numbers))]
    public void A_damage_is_found_and_named(int number)
    {
        string bag = clean.CopyTo(_folder["bag"]);
        Assert.True(BagReader.Check(bag, BagDepth.Full).IsPristine);
        Random random = new(Seed + number);
        string[] all = [.. Payload, .. Tags];
        string file = all[random.Next(all.Length)];
        string[] damaged = (number % 5) switch
        {
            0 => Flip(bag, file, random),
            1 => Cut(bag, file, random),
            2 => Remove(bag, file),
            3 => AddTo(bag, random),
            _ => Swap(bag, random),
        };

        BagCheck check = BagReader.Check(bag, BagDepth.Full);
        Assert.False(check.IsPristine);
        foreach (string name in damaged)
        {
            Assert.True(Names(check, name), $"{name} is not named in: {string.Join(" | ", check.Faults)} {string.Join(" | ", check.Warnings)}");
            if (Payload.Contains(name, StringComparer.Ordinal))
            {
                Assert.False(check.IsValid);
            }
        }

        // Only what was damaged may be blamed, unless it is one of the lists that say how the others should be.
        if (!damaged.Any(name => name.EndsWith("-sha256.txt", StringComparison.Ordinal)))
        {
            Assert.All(check.Faults, fault => Assert.Contains(fault.File, damaged.Append("data")));
        }
    }

    [Theory]
    [MemberData(nameof(Numbers))]
    public void A_clean_bag_is_never_blamed_whatever_its_content(int number)
    {
        Random random = new(Seed - 1 - number);
        int files = random.Next(1, 41);
        BagFile[] payload = [.. Enumerable.Range(0, files).Select(index => BagFile.FromBytes($"{index % 7}/{index}", SampleBag.Noise(random.Next(), random.Next(5000))))];
        string staging = DurableFile.StagingPathFor(_folder["bag"]);
        BagWriter.Stage(staging, payload, [], SampleBag.Info, CancellationToken.None);
        BagWriter.Publish(staging, _folder["bag"]);
        BagCheck check = BagReader.Check(_folder["bag"], BagDepth.FullFromDisk);
        Assert.Equal([], check.Faults);
        Assert.Equal([], check.Warnings);
        Assert.Equal(files, check.PayloadFiles);
    }

    private static int Setting(string name, int otherwise) =>
        Environment.GetEnvironmentVariable(name) is { Length: > 0 } text ? int.Parse(text, System.Globalization.CultureInfo.InvariantCulture) : otherwise;

    private static bool Names(BagCheck check, string file) =>
        check.Faults.Any(fault => fault.File == file || fault.Message.Contains(file, StringComparison.Ordinal))
        || check.Warnings.Any(warning => warning.Contains(file, StringComparison.Ordinal));

    private static string[] Flip(string bag, string file, Random random)
    {
        byte[] bytes = File.ReadAllBytes(Path.Combine(bag, file));
        bytes[random.Next(bytes.Length)] ^= (byte)(1 << random.Next(8));
        File.WriteAllBytes(Path.Combine(bag, file), bytes);
        return [file];
    }

    private static string[] Cut(string bag, string file, Random random)
    {
        byte[] bytes = File.ReadAllBytes(Path.Combine(bag, file));
        File.WriteAllBytes(Path.Combine(bag, file), bytes[..random.Next(bytes.Length)]);
        return [file];
    }

    private static string[] Remove(string bag, string file)
    {
        File.Delete(Path.Combine(bag, file));
        return [file];
    }

    private static string[] AddTo(string bag, Random random)
    {
        string[] folders = ["", "data/", "data/pictures/", "data/new/"];
        string name = folders[random.Next(folders.Length)] + $"stray-{random.Next(1000)}";
        Directory.CreateDirectory(Path.GetDirectoryName(Path.Combine(bag, name))!);
        File.WriteAllBytes(Path.Combine(bag, name), SampleBag.Noise(random.Next(), random.Next(100)));
        return [name];
    }

    private static string[] Swap(string bag, Random random)
    {
        int first = random.Next(Payload.Length);
        int second = (first + 1 + random.Next(Payload.Length - 1)) % Payload.Length;
        (string a, string b) = (Path.Combine(bag, Payload[first]), Path.Combine(bag, Payload[second]));
        (byte[] contentOfA, byte[] contentOfB) = (File.ReadAllBytes(a), File.ReadAllBytes(b));
        File.WriteAllBytes(a, contentOfB);
        File.WriteAllBytes(b, contentOfA);
        return [Payload[first], Payload[second]];
    }

    /// <summary>One bag, published once; each damage is done to a writable copy.</summary>
    public sealed class CleanBag : IDisposable
    {
        private readonly TempFolder _folder = new();
        private readonly string _bag;

        public CleanBag() => _bag = SampleBag.Publish(_folder);

        public string CopyTo(string target)
        {
            foreach (string file in Directory.GetFiles(_bag, "*", SearchOption.AllDirectories))
            {
                string copy = Path.Combine(target, Path.GetRelativePath(_bag, file));
                Directory.CreateDirectory(Path.GetDirectoryName(copy)!);
                File.WriteAllBytes(copy, File.ReadAllBytes(file));
            }

            return target;
        }

        public void Dispose() => _folder.Dispose();
    }
}
