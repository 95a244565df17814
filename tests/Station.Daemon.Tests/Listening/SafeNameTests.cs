using System.Buffers;
using System.Text;
using CsCheck;
using Station.Daemon.Listening;
using Xunit;

namespace Station.Daemon.Tests.Listening;

// Characters and device names: "Naming Files, Paths, and Namespaces" (the vendor's documentation of the DOS family's file systems; from memory).
// 255 bytes: NAME_MAX of Linux (limits.h; confirmed on this system by the tests that make the files).
public sealed class SafeNameTests
{
    private static readonly SearchValues<char> Forbidden = SearchValues.Create(['/', '\\', ':', '*', '?', '"', '<', '>', '|', '\0', '\n', '\r', '\t', '\u007F', '\u202E', '\u2066', '\uFEFF']);

    private static readonly Gen<string> Texts = Gen.OneOf(
        Gen.String,
        Gen.String[Gen.Char["./\\:*?\"<>|-_ aAé\u0301\u202E\u00AD\u3000CONul1\n\t\0~$%²\uD83C\uDFB5"], 0, 40],
        Gen.String[Gen.Char['\u0300', '\u036F'], 0, 400],
        Gen.String[Gen.Char['a', '\uFFFF'], 100, 400]);

    [Theory]
    [InlineData("Low Water", "Low Water")]
    [InlineData("Sonata: Adagio / Presto", "Sonata- Adagio - Presto")]
    [InlineData("What?", "What_")]
    [InlineData("\"Quoted\" <loud> a|b *", "'Quoted' (loud) a-b _")]
    [InlineData("  two   blanks\tand\na break ", "two blanks and a break")]
    [InlineData("...hidden", "hidden")]
    [InlineData("..", "fallback")]
    [InlineData("../../etc/passwd", "etc-passwd")]
    [InlineData("-rf", "rf")]
    [InlineData("ends with dots...", "ends with dots")]
    [InlineData("CON", "CON_")]
    [InlineData("nul.1", "nul_.1")]
    [InlineData("Com\u00B9", "Com\u00B9_")]
    [InlineData("CONCERT", "CONCERT")]
    [InlineData("\u202Eevil\u202C", "evil")]
    [InlineData("e\u0301tude", "\u00E9tude")]
    [InlineData("%2f$(id)`x`", "%2f$(id)`x`")]
    [InlineData("\u001B[31mred", "[31mred")]
    [InlineData("", "fallback")]
    [InlineData("\u200B", "fallback")]
    [InlineData("潮の表", "潮の表")]
    public void A_text_becomes_a_name_that_reads_like_it(string text, string name) => Assert.Equal(name, SafeName.Of(text, "fallback"));

    [Fact]
    public void Every_name_is_one_safe_part_of_a_path() => Texts.Sample(text =>
    {
        string name = SafeName.Of(text, "fallback");
        Assert.Equal(-1, name.AsSpan().IndexOfAny(Forbidden));
        Assert.InRange(Encoding.UTF8.GetByteCount(name), 1, SafeName.MaxTextBytes);
        Assert.True(name.IsNormalized(NormalizationForm.FormC));
        Assert.DoesNotContain(name[0], ". -");
        Assert.DoesNotContain(name[^1], ". ");
        Assert.Equal("/listening/" + name, Path.GetFullPath("/listening/" + name));
        Assert.Equal(name, new UTF8Encoding(false, true).GetString(new UTF8Encoding(false, true).GetBytes(name)));
    });

    [Fact]
    public void Doing_it_again_changes_nothing() => Texts.Sample(text =>
    {
        string name = SafeName.Of(text, "fallback");
        Assert.Equal(name, SafeName.Of(name, "other"));
        Assert.True(SafeName.IsSafe(name));
        Assert.True(SafeName.IsSafe(SafeName.Numbered(name, 12, hasExtension: false)));
    });

    [Fact]
    public void The_extension_survives_any_length() => Gen.Select(Texts, Words(["flac", "mp3"])).Sample((text, extension) =>
    {
        string name = SafeName.OfFile(text, "fallback", extension);
        Assert.EndsWith("." + extension, name, StringComparison.Ordinal);
        Assert.InRange(Encoding.UTF8.GetByteCount(SafeName.Numbered(name, 9999, hasExtension: true)), 1, SafeName.MaxBytes);
        Assert.True(SafeName.IsSafe(name));
    });

    [Fact]
    public void Long_names_are_cut_between_whole_characters()
    {
        Assert.Equal(240, SafeName.Of(new string('x', 300), "f").Length);
        Assert.Equal(new string('é', 120), SafeName.Of(string.Concat(Enumerable.Repeat("é", 300)), "f"));
        string family = "👨‍👩‍👧";      // the joiners go, the figures stay whole
        string cut = SafeName.Of(string.Concat(Enumerable.Repeat(family, 60)), "f");
        Assert.Equal(240, Encoding.UTF8.GetByteCount(cut));
        Assert.DoesNotContain('\uFFFD', cut);
        string marked = "x" + string.Concat(Enumerable.Repeat("\u0323\u0301", 200));
        Assert.InRange(Encoding.UTF8.GetByteCount(SafeName.Of(marked, "f")), 200, 240);
    }

    [Fact]
    public void Longest_names_can_be_made_on_this_disk()
    {
        using var folder = new TempFolder();
        string name = SafeName.Numbered(SafeName.OfFile(new string('ö', 300), "f", "flac"), 9999, hasExtension: true);
        File.WriteAllText(folder.At(name), "x");
        Assert.Equal(name, Path.GetFileName(Assert.Single(Directory.GetFiles(folder.Path))));
    }

    [Theory]
    [InlineData("Low Water.flac", 1, true, "Low Water.flac")]
    [InlineData("Low Water.flac", 2, true, "Low Water (2).flac")]
    [InlineData("Vol. 1", 3, false, "Vol. 1 (3)")]
    public void A_counter_goes_before_the_extension(string name, int n, bool hasExtension, string expected) =>
        Assert.Equal(expected, SafeName.Numbered(name, n, hasExtension));

    [Fact]
    public void Keys_ignore_case_and_the_spelling_of_accents()
    {
        Assert.Equal(SafeName.Key("Étude"), SafeName.Key("e\u0301TUDE"));
        Assert.NotEqual(SafeName.Key("Etude"), SafeName.Key("Étude"));
    }

    [Fact]
    public void An_extension_cannot_be_used_to_leave()
    {
        Assert.Throws<ArgumentException>(() => SafeName.OfFile("a", "f", "../x"));
        Assert.Throws<ArgumentException>(() => SafeName.OfFile("a", "f", ""));
    }

    private static Gen<string> Words(string[] words) => Gen.Int[0, words.Length - 1].Select(i => words[i]);
}
