using System.Collections.Immutable;
using System.ComponentModel.DataAnnotations;

namespace Station.Daemon.Listening;

/// <summary>What listening copies are made. Section <c>Listening</c>.</summary>
internal sealed class ListeningOptions : IValidatableObject
{
    public const string Section = "Listening";

    /// <summary>Every format there is an encoder for: <c>ogg</c> is Vorbis.</summary>
    public static readonly ImmutableArray<string> AllFormats = ["flac", "mp3", "opus", "ogg"];

    /// <summary>The highest sample rate of MPEG-1 layer III (ISO/IEC 11172-3 §2.4.2.3), Hz.</summary>
    private const int Mp3MostHz = 48_000;

    private static readonly ImmutableArray<int> SampleRates = [32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000];

    private static readonly ImmutableArray<int> Mp3Rates = [32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320];

    /// <summary>Formats made of each track: <c>flac</c>, <c>mp3</c>, <c>opus</c>, <c>ogg</c> (Vorbis), any of them; default flac and mp3. Empty: no listening copies.</summary>
    public List<string> Formats { get; set; } = ["flac", "mp3"];

    /// <summary>FLAC compression, 0 (fast) to 8 (small), default 5. The sound is the same.</summary>
    [Range(0, 8)]
    public int FlacLevel { get; set; } = 5;

    /// <summary>Most bits of a FLAC sample: 16 or 24; what has more is rounded with dither. Empty (the default): as captured.</summary>
    public int? FlacBits { get; set; }

    /// <summary>
    /// Highest sample rate of a FLAC, Hz, one of 32000, 44100, 48000, 88200, 96000, 176400, 192000; what was captured at more is brought to it. Empty (the default): as captured.
    /// </summary>
    public int? FlacMaxHz { get; set; }

    /// <summary>Highest sample rate of an MP3, Hz, one of 32000, 44100, 48000; empty (the default): 48000, the format's highest.</summary>
    public int? Mp3MaxHz { get; set; }

    /// <summary>Highest sample rate of a Vorbis file, Hz, as <see cref="FlacMaxHz"/>. Opus has 48000 always.</summary>
    public int? VorbisMaxHz { get; set; }

    /// <summary>MP3 variable bit rate quality, 0 (best) to 9 (smallest), default 0.</summary>
    [Range(0, 9)]
    public int Mp3Quality { get; set; }

    /// <summary>Constant MP3 bit rate, kbit/s, one of 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320. Empty (the default): variable, by <see cref="Mp3Quality"/>.</summary>
    public int? Mp3Kbps { get; set; }

    /// <summary>Opus bit rate of a two-channel track, kbit/s, 12 to 512, default 160; variable, this is what it aims at. One channel gets half.</summary>
    [Range(12, 512)]
    public int OpusKbps { get; set; } = 160;

    /// <summary>Vorbis quality, -1 (smallest) to 10 (best), default 6.</summary>
    [Range(-1, 10)]
    public int VorbisQuality { get; set; } = 6;

    /// <summary>Loudness every side is brought to, LUFS, -40 to -10. Empty (the default): the samples stay as they are, and players use the gain in the tags.</summary>
    [Range(-40.0, -10.0)]
    public double? TargetLufs { get; set; }

    /// <summary>
    /// Two folders and a file's name, with keys of the sheet in braces; default <c>{artist}/{title}/{number} {track}</c>. Everywhere <c>record</c>, <c>artist</c>, <c>title</c>,
    /// <c>label</c>, <c>catalogue</c>, <c>year</c>, <c>genre</c>; in the file's name also <c>number</c> (which it needs), <c>side</c>, <c>track</c>, <c>trackArtist</c>, <c>composer</c>.
    /// </summary>
    public string Names { get; set; } = NamePattern.DefaultText;

    /// <summary><see cref="Names"/> as it was checked.</summary>
    internal NamePattern Pattern => NamePattern.TryParse(Names, out string? fault) ?? throw new InvalidOperationException($"{Section}:{nameof(Names)} {fault}.");

    /// <summary>True: the numbers of tracks begin at 1 on every side. Default false: they go on from side to side.</summary>
    public bool NumberPerSide { get; set; }

    /// <summary>The sleeve's picture in every copy, and beside them as <c>cover</c>; default true.</summary>
    public bool Sleeve { get; set; } = true;

    /// <summary>A playlist for each format beside the copies; default true.</summary>
    public bool Playlists { get; set; } = true;

    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        foreach (string format in Formats.Where(f => !AllFormats.Contains(f)))
        {
            yield return new ValidationResult($"'{format}' is no format this version makes; it makes {string.Join(", ", AllFormats)}.", [nameof(Formats)]);
        }

        if (NamePattern.TryParse(Names, out string? fault) is null)
        {
            yield return new ValidationResult($"'{Names}' {fault}.", [nameof(Names)]);
        }

        if (FlacBits is { } bits and not (16 or 24))
        {
            yield return new ValidationResult($"{bits} is not 16 or 24.", [nameof(FlacBits)]);
        }

        foreach ((string name, int? rate) in ((string, int?)[])[(nameof(FlacMaxHz), FlacMaxHz), (nameof(Mp3MaxHz), Mp3MaxHz), (nameof(VorbisMaxHz), VorbisMaxHz)])
        {
            IEnumerable<int> allowed = SampleRates.Where(r => name != nameof(Mp3MaxHz) || r <= Mp3MostHz);
            if (rate is { } hz && !allowed.Contains(hz))
            {
                yield return new ValidationResult($"{hz} is not one of {string.Join(", ", allowed)}.", [name]);
            }
        }

        if (Mp3Kbps is { } kbps && !Mp3Rates.Contains(kbps))
        {
            yield return new ValidationResult($"{kbps} is not one of {string.Join(", ", Mp3Rates)}.", [nameof(Mp3Kbps)]);
        }
    }

    /// <summary>The sample rate of a copy, Hz.</summary>
    /// <param name="format">One of <see cref="AllFormats"/>.</param>
    /// <param name="capturedHz">Of the master.</param>
    /// <returns>The master's own where the encoder takes what it is given.</returns>
    public int RateOf(string format, int capturedHz) =>
        Math.Min(capturedHz, MostHzOf(format) ?? (format == "mp3" ? Mp3MostHz : capturedHz));

    /// <summary>How a format is encoded, in the words of its encoder: part of what makes two copies the same.</summary>
    public string SettingsOf(string format) =>
        MostHzOf(format) is { } hz ? FormattableString.Invariant($"{EncoderSettingsOf(format)} ({hz} Hz at most)") : EncoderSettingsOf(format);

    private int? MostHzOf(string format) => format switch
    {
        "flac" => FlacMaxHz,
        "mp3" => Mp3MaxHz,
        "ogg" => VorbisMaxHz,
        _ => null,
    };

    private string EncoderSettingsOf(string format) => format switch
    {
        "flac" => FormattableString.Invariant($"-{FlacLevel}{(FlacBits is { } bits ? $" ({bits} bits at most)" : "")}"),
        "mp3" => Mp3Kbps is { } kbps ? FormattableString.Invariant($"--cbr -b {kbps}") : FormattableString.Invariant($"-V{Mp3Quality}"),
        "opus" => FormattableString.Invariant($"--bitrate {OpusKbps}"),
        "ogg" => FormattableString.Invariant($"-q {VorbisQuality}"),
        _ => throw new ArgumentOutOfRangeException(nameof(format), format, "No format this version makes."),
    };
}
