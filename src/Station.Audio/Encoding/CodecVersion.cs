namespace Station.Audio.Encoding;

/// <summary>A codec program as found on this machine.</summary>
/// <param name="Name">Program name, e.g. <c>flac</c>.</param>
/// <param name="Version">Dotted version as it reports itself, e.g. <c>1.4.2</c>.</param>
public sealed record CodecVersion(string Name, string Version);
