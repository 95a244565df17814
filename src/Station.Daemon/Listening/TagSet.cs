using System.Collections.Immutable;
using System.Globalization;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>Loudness of one track.</summary>
/// <param name="IntegratedLufs">BS.1770 integrated; null for silence.</param>
/// <param name="SamplePeak">Linear, 1 = full scale; null when not measured.</param>
internal readonly record struct TrackLoudness(double? IntegratedLufs, double? SamplePeak);

/// <summary>Where a listening copy comes from.</summary>
/// <param name="Take">The take's number.</param>
/// <param name="Bags">Names of the bags that hold its captures.</param>
/// <param name="Encoder">Name, version and setting of the encoder, such as <c>flac 1.4.2 -5</c>.</param>
internal sealed record TrackOrigin(int Take, ImmutableArray<string> Bags, string Encoder);

/// <summary>What is written into one listening copy, the same for every format. Null: not written.</summary>
internal sealed record TagSet
{
    public required string Title { get; init; }

    public string? Artist { get; init; }

    public string? AlbumArtist { get; init; }

    public string? Composer { get; init; }

    public required string Album { get; init; }

    public string? Genre { get; init; }

    /// <summary>From 1; a plain number in every format.</summary>
    public required int TrackNumber { get; init; }

    public int? TrackTotal { get; init; }

    /// <summary>From 1.</summary>
    public required int DiscNumber { get; init; }

    public int? DiscTotal { get; init; }

    public required SideLetter Side { get; init; }

    public int? Year { get; init; }

    public string? Label { get; init; }

    public string? Catalogue { get; init; }

    /// <summary>In the terms of ID3v2.4 TMED: <c>TT/33</c>, <c>TT/78</c>, <c>TT</c>.</summary>
    public required string Media { get; init; }

    public required string Encoder { get; init; }

    public required string Comment { get; init; }

    public required bool IsCompilation { get; init; }

    /// <summary>Such as <c>-6.25 dB</c>.</summary>
    public string? TrackGain { get; init; }

    /// <summary>Such as <c>0.988553</c>.</summary>
    public string? TrackPeak { get; init; }

    /// <summary>Of the record as one programme; null before it is complete.</summary>
    public string? AlbumGain { get; init; }

    /// <inheritdoc cref="AlbumGain"/>
    public string? AlbumPeak { get; init; }

    /// <summary>RFC 7845 §5.2.1, for Opus alone: gain to −23 LUFS in 256ths of a decibel, such as <c>-2880</c>.</summary>
    public string? R128TrackGain { get; init; }

    /// <inheritdoc cref="R128TrackGain"/>
    public string? R128AlbumGain { get; init; }

    /// <summary>
    /// The tags of one track. Depends on nothing but its arguments, so that the same track gives the same bytes again.
    /// </summary>
    /// <param name="record">The record.</param>
    /// <param name="sheet">Null when none was dropped.</param>
    /// <param name="side">The side.</param>
    /// <param name="numberOnSide">1 to <paramref name="tracksOnSide"/>.</param>
    /// <param name="tracksOnSide">How many tracks the division found on the side.</param>
    /// <param name="loudness">As measured on exactly this track.</param>
    /// <param name="origin">Where it comes from.</param>
    /// <param name="album">Of the whole record; nothing before it is complete.</param>
    /// <param name="numberPerSide">Whether numbers begin at 1 on every side.</param>
    public static TagSet Of(
        RecordId record, RecordSheet? sheet, SideLetter side, int numberOnSide, int tracksOnSide, TrackLoudness loudness, TrackOrigin origin,
        TrackLoudness album = default, bool numberPerSide = false)
    {
        TrackPlace place = ListeningNames.Place(sheet, side, numberOnSide, tracksOnSide, numberPerSide);
        (int discNumber, int? discTotal) = sheet?.DiscOf(side) ?? ((side.Index / 2) + 1, null);
        bool compilation = sheet?.Compilation ?? false;
        string? gain = ReplayGain.GainText(loudness.IntegratedLufs);
        string? albumGain = ReplayGain.GainText(album.IntegratedLufs);
        return new TagSet
        {
            Title = place.Sheet?.Title ?? string.Create(CultureInfo.InvariantCulture, $"Side {side}, track {numberOnSide}"),
            Artist = place.Sheet?.Artist ?? sheet?.Artist,
            AlbumArtist = sheet?.Artist ?? (compilation ? ListeningNames.VariousArtists : null),
            Composer = place.Sheet?.Composer,
            Album = sheet?.Title ?? record.Value,
            Genre = sheet?.Genre,
            TrackNumber = place.Number,
            TrackTotal = place.Total,
            DiscNumber = discNumber,
            DiscTotal = discTotal,
            Side = side,
            Year = sheet?.Year,
            Label = sheet?.Label,
            Catalogue = sheet?.Catalogue,
            Media = MediaOf(sheet?.SpeedOf(side)),
            Encoder = origin.Encoder,
            Comment = string.Create(CultureInfo.InvariantCulture, $"Side {side}, take {origin.Take}, from {string.Join(", ", origin.Bags)}"),
            IsCompilation = compilation,
            TrackGain = gain,
            TrackPeak = gain is null ? null : ReplayGain.PeakText(loudness.SamplePeak),
            AlbumGain = albumGain,
            AlbumPeak = albumGain is null ? null : ReplayGain.PeakText(album.SamplePeak),
            R128TrackGain = ReplayGain.R128Text(loudness.IntegratedLufs),
            R128AlbumGain = ReplayGain.R128Text(album.IntegratedLufs),
        };
    }

    /// <summary>
    /// ID3v2.4.0 frames, 4.2.3: TT is a turntable record, with /33, /45, /71 (71.29), /76 (76.59), /78 (78.26) or /80 for its speed; plain TT for another.
    /// </summary>
    private static string MediaOf(NominalSpeed? speed)
    {
        if (speed is null)
        {
            return "TT";
        }

        (string Media, double Rpm)[] known =
            [("TT/33", 100.0 / 3), ("TT/45", 45), ("TT/71", 71.29), ("TT/76", 76.59), ("TT/78", NominalSpeed.Rpm78At60Hz), ("TT/78", NominalSpeed.Rpm78At50Hz), ("TT/80", 80)];
        return known.FirstOrDefault(k => Math.Abs(k.Rpm - speed.Rpm) < 0.05).Media ?? "TT";
    }
}
