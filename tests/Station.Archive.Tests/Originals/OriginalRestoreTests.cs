using System.Collections.Immutable;
using System.Text;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Originals;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Originals;

public sealed class OriginalRestoreTests : IDisposable
{
    private readonly TempFolder _folder = new();
    private readonly byte[] _original = SampleBag.Noise(31, 1_234_567);

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Header_words_and_trailer_give_the_dropped_file_back()
    {
        string bag = Bag(Recipe());
        OriginalRestore.RestoreTo(bag, _folder["out.wav"], Decode, CancellationToken.None);
        Assert.Equal(_original, File.ReadAllBytes(_folder["out.wav"]));
        Assert.Equal(Tool.Run("sha256sum", _folder["out.wav"]).Output[..64], OriginalRestore.ReadRecipe(bag).Sha256);
        Assert.Equal(["HL-0031-A-c1", "out.wav"], _folder.Names);
    }

    [Fact]
    public void A_file_kept_whole_needs_no_decoder()
    {
        RestoreRecipe recipe = Recipe() with { Parts = [new(RestorePartKind.Bytes, "whole/capture.flac", _original.Length)] };
        string bag = Bag(recipe, BagFile.FromBytes("whole/capture.flac", _original));
        OriginalRestore.RestoreTo(bag, _folder["out"], (_, _) => throw new InvalidOperationException("not asked"), CancellationToken.None);
        Assert.Equal(_original, File.ReadAllBytes(_folder["out"]));
    }

    [Fact]
    public void Rebuilding_tells_the_digest_of_what_it_wrote()
    {
        using MemoryStream output = new();
        Assert.Equal(Recipe().Sha256, OriginalRestore.Rebuild(Bag(Recipe()), output, Decode, CancellationToken.None));
        Assert.Equal(_original, output.ToArray());
    }

    [Fact]
    public void A_decoder_may_close_its_stream()
    {
        string digest = OriginalRestore.Rebuild(
            Bag(Recipe()),
            Stream.Null,
            (path, output) =>
            {
                Decode(path, output);
                output.Dispose();
            },
            CancellationToken.None);
        Assert.Equal(Recipe().Sha256, digest);
    }

    [Fact]
    public void Other_bytes_are_a_mismatch_and_leave_nothing()
    {
        string bag = Bag(Recipe());
        RestoreMismatchException e = Assert.Throws<RestoreMismatchException>(() => OriginalRestore.RestoreTo(
            bag,
            _folder["out"],
            (path, output) =>
            {
                byte[] words = File.ReadAllBytes(path);
                words[^1] ^= 1;
                output.Write(Mirrored(words));
            },
            CancellationToken.None));
        Assert.Contains("HL-0031-A.wav: expected SHA-256 " + Recipe().Sha256, e.Message, StringComparison.Ordinal);
        Assert.Equal(["HL-0031-A-c1"], _folder.Names);
    }

    [Theory]
    [InlineData(-1)]
    [InlineData(1)]
    public void A_part_of_another_length_is_a_mismatch_and_leaves_nothing(int difference)
    {
        string bag = Bag(Recipe());
        RestoreMismatchException e = Assert.Throws<RestoreMismatchException>(() => OriginalRestore.RestoreTo(
            bag,
            _folder["out"],
            (path, output) => output.Write(new byte[new FileInfo(path).Length + difference]),
            CancellationToken.None));
        Assert.Contains("master.flac: expected ", e.Message, StringComparison.Ordinal);
        Assert.Equal(["HL-0031-A-c1"], _folder.Names);
    }

    [Fact]
    public void A_decoder_that_never_ends_is_stopped_at_the_length_of_the_recipe()
    {
        long written = 0;
        Assert.Throws<RestoreMismatchException>(() => OriginalRestore.RestoreTo(
            Bag(Recipe()),
            _folder["out"],
            (_, output) =>
            {
                while (true)
                {
                    output.Write(new byte[65_536]);
                    written += 65_536;
                }
            },
            CancellationToken.None));
        Assert.True(written <= _original.Length);
    }

    [Fact]
    public void A_failing_decoder_is_passed_on_and_leaves_nothing()
    {
        Assert.Throws<InvalidDataException>(() => OriginalRestore.RestoreTo(
            Bag(Recipe()), _folder["out"], (_, _) => throw new InvalidDataException("frame 7"), CancellationToken.None));
        Assert.Equal(["HL-0031-A-c1"], _folder.Names);
    }

    [Fact]
    public void An_existing_file_is_not_overwritten_and_nothing_decoded()
    {
        _folder.Write("out", "mine");
        Assert.True(Assert.Throws<PosixException>(() => OriginalRestore.RestoreTo(
            Bag(Recipe()), _folder["out"], (_, _) => throw new InvalidOperationException("decoded"), CancellationToken.None)).IsExists);
        Assert.Equal("mine", File.ReadAllText(_folder["out"]));
    }

    [Fact]
    public void The_recipe_is_plain_json_and_reads_back()
    {
        RestoreRecipe recipe = Recipe() with { FileName = "HL-0031-A.wav", Parts = [new(RestorePartKind.Words, "master.flac", 4), new(RestorePartKind.Bytes, "original-trailer.bin", 2)], Bytes = 6 };
        string json = Encoding.UTF8.GetString(OriginalRestore.WriteRecipe(recipe));
        Assert.Equal(
            $$"""
            {
              "version": 1,
              "fileName": "HL-0031-A.wav",
              "bytes": 6,
              "sha256": "{{recipe.Sha256}}",
              "parts": [
                {
                  "kind": "words",
                  "file": "master.flac",
                  "bytes": 4
                },
                {
                  "kind": "bytes",
                  "file": "original-trailer.bin",
                  "bytes": 2
                }
              ]
            }

            """,
            json);
        RestoreRecipe found = OriginalRestore.ReadRecipe(BagWithRecipeText(json));
        Assert.Equal(recipe.Parts, found.Parts.AsEnumerable());
        Assert.Equal(recipe with { Parts = found.Parts }, found);
    }

    [Theory]
    [InlineData("")]
    [InlineData("null")]
    [InlineData("[]")]
    [InlineData("{}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\"}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":null}")]
    [InlineData("{\"version\":1,\"fileName\":null,\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[]}")]
    [InlineData("{\"version\":2,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[],\"more\":1}")]
    [InlineData("{\"version\":1,\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":1,\"sha256\":\"SUM\",\"parts\":[]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"12\",\"parts\":[]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[null]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[{\"kind\":\"bytes\",\"file\":\"../../x\",\"bytes\":0}]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[{\"kind\":\"bytes\",\"file\":\"/etc/x\",\"bytes\":0}]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[{\"kind\":\"bytes\",\"bytes\":0}]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[{\"kind\":\"magic\",\"file\":\"x\",\"bytes\":0}]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[{\"kind\":7,\"file\":\"x\",\"bytes\":0}]}")]
    [InlineData("{\"version\":1,\"fileName\":\"a\",\"bytes\":0,\"sha256\":\"SUM\",\"parts\":[{\"kind\":\"bytes\",\"file\":\"x\",\"bytes\":-1},{\"kind\":\"bytes\",\"file\":\"x\",\"bytes\":1}]}")]
    public void A_recipe_that_is_not_exactly_one_is_refused_in_one_line(string json)
    {
        string text = json.Replace("SUM", Recipe().Sha256, StringComparison.Ordinal);
        BagFormatException e = Assert.Throws<BagFormatException>(() => OriginalRestore.ReadRecipe(BagWithRecipeText(text)));
        Assert.Contains("original.json: ", e.Message, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', e.Message);
    }

    [Fact]
    public void A_recipe_that_contradicts_itself_is_not_written()
    {
        Assert.Throws<ArgumentException>(() => OriginalRestore.WriteRecipe(Recipe() with { Bytes = 1 }));
        Assert.Throws<ArgumentException>(() => OriginalRestore.WriteRecipe(Recipe() with { Parts = default }));
    }

    [Fact]
    public void A_bag_without_recipe_or_part_says_what_is_missing()
    {
        string bag = SampleBag.Publish(_folder);
        Assert.Equal(Errno.NoEntry, Assert.Throws<PosixException>(() => OriginalRestore.ReadRecipe(bag)).Errno);
        DurableFile.DeleteFolder(bag);
        RestoreRecipe recipe = Recipe() with { Parts = [new(RestorePartKind.Bytes, "gone.bin", _original.Length)] };
        Assert.EndsWith("gone.bin: No such file or directory (2)", Assert.Throws<PosixException>(
            () => OriginalRestore.RestoreTo(Bag(recipe), _folder["out"], Decode, CancellationToken.None)).Message, StringComparison.Ordinal);
        Assert.Equal(["HL-0031-A-c1"], _folder.Names);
    }

    /// <summary>Stands for a codec: the "master" holds the words complemented.</summary>
    private static void Decode(string masterPath, Stream output) => output.Write(Mirrored(File.ReadAllBytes(masterPath)));

    private static byte[] Mirrored(byte[] bytes) => Array.ConvertAll(bytes, value => (byte)~value);

    private RestoreRecipe Recipe() => new()
    {
        Version = RestoreRecipe.CurrentVersion,
        FileName = "HL-0031-A.wav",
        Bytes = _original.Length,
        Sha256 = SampleBag.Hex("sha256", _original),
        Parts = ImmutableArray.Create(
            new RestorePart(RestorePartKind.Bytes, "original-header.bin", 44),
            new RestorePart(RestorePartKind.Words, "master.flac", _original.Length - 44 - 5),
            new RestorePart(RestorePartKind.Bytes, "original-trailer.bin", 5)),
    };

    private string Bag(RestoreRecipe recipe, params BagFile[] more) => Publish(
    [
        BagFile.FromBytes("original.json", OriginalRestore.WriteRecipe(recipe)),
        BagFile.FromBytes("original-header.bin", _original.AsMemory(0, 44)),
        BagFile.FromBytes("master.flac", Mirrored(_original[44..^5])),
        BagFile.FromBytes("original-trailer.bin", _original.AsMemory()[^5..]),
        .. more,
    ]);

    private string BagWithRecipeText(string json) => Publish([SampleBag.Text("original.json", json)]);

    private string Publish(BagFile[] payload)
    {
        string bag = _folder["HL-0031-A-c1"];
        string staging = DurableFile.StagingPathFor(bag);
        BagWriter.Stage(staging, payload, [], SampleBag.Info, CancellationToken.None);
        BagWriter.Publish(staging, bag);
        return bag;
    }
}
