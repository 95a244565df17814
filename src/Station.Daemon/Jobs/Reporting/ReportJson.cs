using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>How the station's own JSON documents are written and read back: camel case, UTF-8, unknown or missing members refused.</summary>
internal static class ReportJson
{
    public static JsonSerializerOptions Options { get; } = Make(indented: true);

    /// <summary>The same on one line, for the database and the event log.</summary>
    public static JsonSerializerOptions Compact { get; } = Make(indented: false);

    public static byte[] Serialize(StationReport report) => JsonSerializer.SerializeToUtf8Bytes(report, Options);

    public static StationReport Deserialize(ReadOnlySpan<byte> json) =>
        JsonSerializer.Deserialize<StationReport>(json, Options) ?? throw new JsonException("The report is null.");

    private static JsonSerializerOptions Make(bool indented)
    {
        var options = new JsonSerializerOptions
        {
            PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
            WriteIndented = indented,
            NewLine = "\n",
            UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
            RespectNullableAnnotations = true,
            RespectRequiredConstructorParameters = true,
            // The default encoder would turn every letter outside ASCII into \uXXXX; these documents are never placed inside HTML.
            Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
            Converters = { new UtcSecondsConverter(), new JsonStringEnumConverter(new KebabOrCamel()) },
        };
        options.MakeReadOnly(populateMissingResolver: true);
        return options;
    }

    /// <summary>Enum names as the report writes them: <c>WholeSide</c> is <c>whole-side</c>.</summary>
    private sealed class KebabOrCamel : JsonNamingPolicy
    {
        public override string ConvertName(string name) => KebabCaseLower.ConvertName(name);
    }

    /// <summary>RFC 3339 in UTC with milliseconds, always: text order is time order.</summary>
    private sealed class UtcSecondsConverter : JsonConverter<DateTimeOffset>
    {
        private const string Format = "yyyy-MM-dd'T'HH:mm:ss.fff'Z'";

        public override DateTimeOffset Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => reader.GetDateTimeOffset();

        public override void Write(Utf8JsonWriter writer, DateTimeOffset value, JsonSerializerOptions options) =>
            writer.WriteStringValue(value.UtcDateTime.ToString(Format, System.Globalization.CultureInfo.InvariantCulture));
    }
}
