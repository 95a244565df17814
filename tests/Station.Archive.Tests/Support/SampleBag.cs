using System.Security.Cryptography;
using System.Text;
using Station.Archive.Bags;
using Station.Archive.Durability;

namespace Station.Archive.Tests.Support;

/// <summary>Bags for tests: written by the library, or by hand line by line so that the reader is judged by something else than the writer.</summary>
internal static class SampleBag
{
    public static BagInfo Info { get; } = new()
    {
        ExternalIdentifier = "HL-0031-A-c1",
        ExternalDescription = "The Lantern Street Quintet: Tide Tables, side A",
        SourceOrganization = "Quayside Pressings",
        BaggingDate = new DateOnly(2026, 3, 14),
        BagSoftwareAgent = "StationDaemon 0.1.0",
        BagGroupIdentifier = "HL-0031",
    };

    public static BagFile Text(string name, string text) => BagFile.FromBytes(name, Encoding.UTF8.GetBytes(text));

    public static byte[] Noise(int seed, int bytes)
    {
        byte[] noise = new byte[bytes];
        new Random(seed).NextBytes(noise);
        return noise;
    }

    /// <summary>A published bag of several files.</summary>
    public static string Publish(TempFolder folder, params BagFile[] more)
    {
        string bag = folder["HL-0031-A-c1"];
        BagFile[] payload =
        [
            BagFile.FromBytes("master.flac", Noise(31, 3000)),
            BagFile.FromBytes("original-header.bin", Noise(32, 44)),
            Text("inspection.json", "{\"verdict\":\"accept\"}\n"),
            Text("pictures/side A.svg", "<svg/>\n"),
            .. more,
        ];
        string staging = DurableFile.StagingPathFor(bag);
        BagWriter.Stage(staging, payload, [Text("README.txt", "What this folder is.\n")], Info, CancellationToken.None);
        BagWriter.Publish(staging, bag);
        return bag;
    }

    /// <summary>Starts a bag written by hand: declaration, payload files, and a payload manifest that lists them.</summary>
    public static HandBag ByHand(TempFolder folder) => new(folder["bag"]);

    /// <summary>Digest by the name a manifest gives it, lower-case hexadecimal.</summary>
    public static string Hex(string algorithm, byte[] bytes) =>
        Convert.ToHexStringLower(CryptographicOperations.HashData(new HashAlgorithmName(algorithm.ToUpperInvariant()), bytes));
}
