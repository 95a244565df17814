using System.ComponentModel.DataAnnotations;

namespace Station.Daemon.Listening;

/// <summary>What listening copies are made. Section <c>Listening</c>.</summary>
internal sealed class ListeningOptions : IValidatableObject
{
    public const string Section = "Listening";

    /// <summary>Formats made of each track: <c>flac</c>, <c>mp3</c>, or both; default both. Empty: no listening copies.</summary>
    public List<string> Formats { get; set; } = ["flac", "mp3"];

    /// <summary>FLAC compression, 0 (fast) to 8 (small), default 5. The sound is the same.</summary>
    [Range(0, 8)]
    public int FlacLevel { get; set; } = 5;

    /// <summary>MP3 variable bit rate quality, 0 (best) to 9 (smallest), default 0.</summary>
    [Range(0, 9)]
    public int Mp3Quality { get; set; }

    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        foreach (string format in Formats.Where(f => f is not ("flac" or "mp3")))
        {
            yield return new ValidationResult($"'{format}' is no format this version makes; it makes flac and mp3.", [nameof(Formats)]);
        }
    }
}
