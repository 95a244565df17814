using System.Collections.Concurrent;
using System.Text.RegularExpressions;

namespace Station.Audio.Encoding;

/// <summary>Where the codec programs are. Absolute paths; an empty string stands for a program that was not found.</summary>
public sealed partial record CodecTools
{
    /// <summary>What each program calls itself, by path: a program is asked once per run of the service.</summary>
    private static readonly ConcurrentDictionary<string, CodecVersion> Asked = new(StringComparer.Ordinal);

    /// <summary>FLAC encoder and decoder.</summary>
    public required string Flac { get; init; }

    /// <summary>Editor of FLAC metadata; in the same package as <see cref="Flac"/>.</summary>
    public required string Metaflac { get; init; }

    /// <summary>MP3 encoder.</summary>
    public required string Lame { get; init; }

    /// <summary>Opus encoder.</summary>
    public string Opusenc { get; init; } = "";

    /// <summary>Vorbis encoder.</summary>
    public string Oggenc { get; init; } = "";

    /// <summary>Looks the programs up in the folders of PATH.</summary>
    /// <remarks>A missing one is no error until it is needed: a station without MP3 needs no MP3 encoder.</remarks>
    public static CodecTools FromPath() => new() { Flac = Find("flac"), Metaflac = Find("metaflac"), Lame = Find("lame"), Opusenc = Find("opusenc"), Oggenc = Find("oggenc") };

    /// <summary>Asks an encoder for its version, once.</summary>
    /// <param name="format">What it makes: <c>flac</c>, <c>mp3</c>, <c>opus</c> or <c>ogg</c> (Vorbis).</param>
    /// <exception cref="CodecMissingException">It is missing or does not run; the message names its package.</exception>
    public CodecVersion EncoderOf(string format)
    {
        CodecProgram program = format switch
        {
            "flac" => CodecProgram.Flac,
            "mp3" => CodecProgram.Lame,
            "opus" => CodecProgram.Opusenc,
            "ogg" => CodecProgram.Oggenc,
            _ => throw new ArgumentOutOfRangeException(nameof(format), format, "No format there is an encoder for."),
        };
        return Ask(program, PathOf(program));
    }

    /// <summary>Asks the programs no station can do without for their versions, once each.</summary>
    /// <exception cref="CodecMissingException">One of them is missing or does not run.</exception>
    public IReadOnlyList<CodecVersion> Versions() =>
        [Ask(CodecProgram.Flac, Flac), Ask(CodecProgram.Metaflac, Metaflac), Ask(CodecProgram.Lame, Lame)];

    internal string PathOf(CodecProgram program) => program switch
    {
        _ when program == CodecProgram.Flac => Flac,
        _ when program == CodecProgram.Metaflac => Metaflac,
        _ when program == CodecProgram.Opusenc => Opusenc,
        _ when program == CodecProgram.Oggenc => Oggenc,
        _ => Lame,
    };

    private static string Find(string name)
    {
        foreach (string folder in (Environment.GetEnvironmentVariable("PATH") ?? "").Split(Path.PathSeparator))
        {
            // Relative entries would make the choice of program depend on the working folder.
            if (Path.IsPathFullyQualified(folder))
            {
                string path = Path.Combine(folder, name);
                if (File.Exists(path))
                {
                    return path;
                }
            }
        }

        return "";
    }

    private static CodecVersion Ask(CodecProgram program, string path)
    {
        if (Asked.TryGetValue(path, out CodecVersion? known))
        {
            return known;
        }

        using var child = ChildProcess.Start(program, path, ["--version"]);
        child.CloseInput();
        int exitCode = child.WaitForExit();
        Match match = VersionNumber.Match(child.StandardOutput);
        if (exitCode != 0 || !match.Success)
        {
            throw new CodecMissingException(path, program.DebianPackage, "does not tell its version");
        }

        return Asked.GetOrAdd(path, new CodecVersion(program.Name, match.Value));
    }

    [GeneratedRegex(@"[0-9]+(\.[0-9]+)+", RegexOptions.CultureInvariant | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex VersionNumber { get; }
}
