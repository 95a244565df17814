using Station.Archive.Durability;
using Station.Archive.Fixity;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Fixity;

public sealed class FileDigestTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    // FIPS 180-4, published examples for SHA-256: the empty message, "abc", and the 448-bit message (from memory).
    [Theory]
    [InlineData("", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")]
    [InlineData("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad")]
    [InlineData("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1")]
    public void Digests_are_those_of_the_standard(string message, string digest)
    {
        Assert.Equal(digest, FileDigest.Sha256(_folder.Write("a", message)));
        Assert.Equal(digest, FileDigest.Sha256(System.Text.Encoding.ASCII.GetBytes(message)));
    }

    // GNU coreutils sha256sum as the independent witness, around the size of a block.
    [Theory]
    [InlineData(1_048_575)]
    [InlineData(1_048_576)]
    [InlineData(1_048_577)]
    [InlineData(5_000_000)]
    public void Large_files_agree_with_the_common_tool(int bytes)
    {
        string path = _folder.Write("a", SampleBag.Noise(bytes, bytes));
        Assert.Equal(Tool.Run("sha256sum", path).Output[..64], FileDigest.Sha256(path));
    }

    [Fact]
    public void A_pipe_is_refused()
    {
        Assert.Equal(0, Tool.Run("mkfifo", _folder["pipe"]).ExitCode);
        Assert.Throws<NotRegularFileException>(() => FileDigest.Sha256(_folder["pipe"]));
    }
}
