namespace Station.Audio.Encoding;

/// <summary>A codec program and the Debian package that contains it.</summary>
internal sealed record CodecProgram(string Name, string DebianPackage)
{
    public static CodecProgram Flac { get; } = new("flac", "flac");

    public static CodecProgram Metaflac { get; } = new("metaflac", "flac");

    public static CodecProgram Lame { get; } = new("lame", "lame");

    public static CodecProgram Opusenc { get; } = new("opusenc", "opus-tools");

    public static CodecProgram Oggenc { get; } = new("oggenc", "vorbis-tools");
}
