using System.Text;
using Station.Archive.Bags;
using Station.Archive.Originals;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Originals;

/// <summary>Files that store the most significant byte first: what is decoded must be turned round, in whatever pieces it comes.</summary>
public sealed class ReversedWordsTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    public static TheoryData<int, int> Pieces()
    {
        var data = new TheoryData<int, int>();
        foreach (int wordBytes in new[] { 2, 3, 4, 5, 8 })
        {
            foreach (int piece in new[] { 1, 7, 4096, 48 * 1024, 100_003 })
            {
                data.Add(wordBytes, piece);
            }
        }

        return data;
    }

    [Theory, MemberData(nameof(Pieces))]
    public void Words_come_back_turned_round_whatever_the_pieces(int wordBytes, int piece)
    {
        byte[] words = SampleBag.Noise(7, 40_000 * wordBytes);
        byte[] original = [1, 2, 3, .. words.Chunk(wordBytes).SelectMany(w => w.Reverse())];
        string bag = Bag(original, words, wordBytes);
        OriginalRestore.RestoreTo(
            bag,
            _folder["out"],
            (path, output) =>
            {
                foreach (byte[] part in File.ReadAllBytes(path).Chunk(piece))
                {
                    output.Write(part);
                }
            },
            CancellationToken.None);
        Assert.Equal(original, File.ReadAllBytes(_folder["out"]));
    }

    [Fact]
    public void A_recipe_says_so_only_where_it_is_so()
    {
        byte[] words = SampleBag.Noise(8, 6);
        string reversed = Encoding.UTF8.GetString(OriginalRestore.WriteRecipe(Recipe(words, words, 3)));
        string plain = Encoding.UTF8.GetString(OriginalRestore.WriteRecipe(Recipe(words, words, 0)));
        Assert.Contains("\"reversedWordBytes\": 3", reversed, StringComparison.Ordinal);
        Assert.DoesNotContain("reversed", plain, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(1, 6)]
    [InlineData(9, 9)]
    [InlineData(-2, 6)]
    [InlineData(4, 6)]     // not whole words
    public void A_recipe_that_cannot_be_followed_is_refused(int wordBytes, int bytes)
    {
        byte[] words = SampleBag.Noise(9, bytes);
        Assert.Throws<ArgumentException>(() => OriginalRestore.WriteRecipe(Recipe(words, words, wordBytes)));
    }

    [Fact]
    public void Bytes_are_never_turned_round()
    {
        byte[] bytes = SampleBag.Noise(10, 6);
        RestoreRecipe recipe = Recipe(bytes, bytes, 0) with { Parts = [new(RestorePartKind.Bytes, "master.flac", 6, 3)] };
        Assert.Throws<ArgumentException>(() => OriginalRestore.WriteRecipe(recipe));
    }

    private static RestoreRecipe Recipe(byte[] original, byte[] words, int wordBytes)
    {
        List<RestorePart> parts = [new(RestorePartKind.Words, "master.flac", words.Length, wordBytes)];
        if (original.Length > words.Length)
        {
            parts.Insert(0, new(RestorePartKind.Bytes, "original-header.bin", original.Length - words.Length));
        }

        return new()
        {
            Version = 1,
            FileName = "HL-0031-A.aif",
            Bytes = original.Length,
            Sha256 = Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(original)),
            Parts = [.. parts],
        };
    }

    private string Bag(byte[] original, byte[] words, int wordBytes)
    {
        string bag = _folder["HL-0031-A-c1"];
        Directory.CreateDirectory(Path.Combine(bag, "data"));
        File.WriteAllBytes(Path.Combine(bag, "data", "master.flac"), words);
        File.WriteAllBytes(Path.Combine(bag, "data", "original-header.bin"), original[..3]);
        File.WriteAllBytes(Path.Combine(bag, "data", "original.json"), OriginalRestore.WriteRecipe(Recipe(original, words, wordBytes)));
        return bag;
    }
}
