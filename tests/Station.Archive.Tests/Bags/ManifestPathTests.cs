using CsCheck;
using Station.Archive.Bags;

namespace Station.Archive.Tests.Bags;

public sealed class ManifestPathTests
{
    // RFC 8493 §2.1.3: CR, LF and % (and only those) are percent-encoded (second-hand: quoted alike in several repositories); the rows are computed from that rule.
    [Theory]
    [InlineData("data/side A.flac", "data/side A.flac")]
    [InlineData("data/100%.wav", "data/100%25.wav")]
    [InlineData("data/a\nb.wav", "data/a%0Ab.wav")]
    [InlineData("data/a\rb.wav", "data/a%0Db.wav")]
    [InlineData("data/a\r\nb.wav", "data/a%0D%0Ab.wav")]
    [InlineData("data/%0A.wav", "data/%250A.wav")]
    [InlineData("data/~x.wav", "data/~x.wav")]
    [InlineData("data/é.wav", "data/é.wav")]
    public void A_path_is_encoded_and_decoded_in_one_pass(string path, string inManifest)
    {
        Assert.Equal(inManifest, ManifestPath.Encode(path));
        Assert.Equal(path, ManifestPath.Decode(inManifest, percentIsEncoded: true, out bool stray));
        Assert.False(stray);
    }

    // RFC 3986 §2.1: hexadecimal digits of percent-encoding are case-insensitive (from memory).
    [Fact]
    public void Lower_case_digits_are_decoded_too() =>
        Assert.Equal("data/a\nb\rc.wav", ManifestPath.Decode("data/a%0ab%0dc.wav", percentIsEncoded: true, out _));

    // "and only those": other escapes are no escapes. Writers that forget to encode % exist (an open fault report of a common library, confirmed).
    [Theory]
    [InlineData("data/100%.wav")]
    [InlineData("data/%41.wav")]
    [InlineData("data/a%")]
    [InlineData("data/a%0")]
    [InlineData("data/a%2")]
    public void Any_other_percent_sign_is_taken_as_it_is_and_noticed(string inManifest)
    {
        Assert.Equal(inManifest, ManifestPath.Decode(inManifest, percentIsEncoded: true, out bool stray));
        Assert.True(stray);
    }

    // Versions before 1.0 did not encode % (second-hand); their test bags hold names such as "%test2.txt" as they are (confirmed).
    [Theory]
    [InlineData("data/%test2.txt", "data/%test2.txt")]
    [InlineData("data/a%25.txt", "data/a%25.txt")]
    [InlineData("data/a%0Ab.txt", "data/a\nb.txt")]
    public void Before_1_0_a_percent_sign_was_not_encoded(string inManifest, string path)
    {
        Assert.Equal(path, ManifestPath.Decode(inManifest, percentIsEncoded: false, out bool stray));
        Assert.False(stray);
    }

    [Fact]
    public void Whatever_the_name_decoding_undoes_encoding() => Gen.String[Gen.Char["%0129ADad\r\n/é "], 0, 40].Sample(
        path => ManifestPath.Decode(ManifestPath.Encode(path), percentIsEncoded: true, out bool stray) == path && !stray, seed: "0000000000000", iter: 10_000);

    // RFC 8493 §2.1.3 and §5 (from memory); the conformance suite's "out-of-scope-file-paths" cases (confirmed).
    [Theory]
    [InlineData("/etc/x")]
    [InlineData("../x")]
    [InlineData("data/../../x")]
    [InlineData("~/x")]
    [InlineData("~user/x")]
    [InlineData("C:\\x")]
    [InlineData("\\\\host\\x")]
    [InlineData("data\\..\\..\\x")]
    [InlineData("data/..")]
    [InlineData("data/a\0b")]
    public void A_path_that_could_leave_the_bag_is_unsafe_and_never_written(string path)
    {
        Assert.NotNull(BagPath.WhyUnsafe(path));
        Assert.NotNull(BagPath.WhyNotWritable(path));
    }

    [Theory]
    [InlineData("data/a..b")]
    [InlineData("data/...")]
    [InlineData("data/~x.wav")]
    [InlineData("data/C:x")]
    public void A_path_that_only_looks_odd_is_safe(string path) => Assert.Null(BagPath.WhyUnsafe(path));

    [Theory]
    [InlineData("")]
    [InlineData("a//b")]
    [InlineData("a/")]
    [InlineData("./a")]
    [InlineData("a/./b")]
    [InlineData("a\\b")]
    public void The_writer_refuses_names_with_more_than_one_reading(string name) => Assert.NotNull(BagPath.WhyNotWritable(name));

    [Fact]
    public void The_writer_refuses_half_a_character() => Assert.NotNull(BagPath.WhyNotWritable("a\uD800b"));

    // NAME_MAX of Linux is 255 bytes (limits.h, confirmed); é takes two in UTF-8.
    [Fact]
    public void Length_is_counted_in_bytes()
    {
        Assert.Null(BagPath.WhyNotWritable(new string('a', 255)));
        Assert.NotNull(BagPath.WhyNotWritable(new string('a', 256)));
        Assert.Null(BagPath.WhyNotWritable(new string('é', 127)));
        Assert.NotNull(BagPath.WhyNotWritable(new string('é', 128)));
    }
}
