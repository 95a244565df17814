using Station.Audio.Encoding;
using Station.Audio.Tests.Reading;
using Xunit;

namespace Station.Audio.Tests.Encoding;

public sealed class CodecToolsTests
{
    [Fact]
    public void Programs_are_found_on_the_path_and_tell_their_versions()
    {
        CodecTools tools = CodecTools.FromPath();
        Assert.All([tools.Flac, tools.Metaflac, tools.Lame], path => Assert.True(Path.IsPathFullyQualified(path) && File.Exists(path)));
        IReadOnlyList<CodecVersion> versions = tools.Versions();
        Assert.Equal(["flac", "metaflac", "lame"], versions.Select(v => v.Name));
        string flac = System.Text.Encoding.ASCII.GetString(Tool.Run("flac", "--version"));
        Assert.Equal($"flac {versions[0].Version}\n", flac);
        Assert.StartsWith("3.", versions[2].Version, StringComparison.Ordinal);
    }

    [Fact]
    public void A_missing_program_is_named_with_the_package_that_has_it()
    {
        CodecTools tools = CodecTools.FromPath();
        CodecMissingException lame = Assert.Throws<CodecMissingException>(() => (tools with { Lame = "/nowhere/lame" }).Versions());
        Assert.Equal(("/nowhere/lame", "lame"), (lame.Program, lame.DebianPackage));
        Assert.Equal("The program /nowhere/lame is not there. Install the Debian package lame.", lame.Message);
        Assert.Equal("flac", Assert.Throws<CodecMissingException>(() => (tools with { Metaflac = "" }).Versions()).DebianPackage);
    }

    [Fact]
    public void A_file_that_cannot_be_started_is_a_missing_program()
    {
        using var folder = new TestFolder();
        CodecTools tools = CodecTools.FromPath() with { Flac = folder.Write([1, 2, 3], ".bin") };
        Assert.Contains("cannot be started", Assert.Throws<CodecMissingException>(tools.Versions).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Stream_info_of_something_else_is_invalid_data()
    {
        using var folder = new TestFolder();
        Assert.Throws<InvalidDataException>(() => FlacFile.ReadStreamInfo(folder.Write([.. "RIFF"u8, .. new byte[60]])));
        Assert.Throws<InvalidDataException>(() => FlacFile.ReadStreamInfo(folder.Write([.. "fLaC"u8])));
    }
}
