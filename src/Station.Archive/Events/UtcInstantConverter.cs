using System.Globalization;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Station.Archive.Events;

/// <summary>Instants as RFC 3339 in UTC with Z and seven decimals, so that text order is time order.</summary>
internal sealed class UtcInstantConverter : JsonConverter<DateTimeOffset>
{
    private const string Form = "yyyy-MM-dd'T'HH:mm:ss.fffffff'Z'";

    public override DateTimeOffset Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options)
    {
        DateTimeOffset instant = reader.GetDateTimeOffset();
        return instant.Offset == TimeSpan.Zero ? instant : throw new JsonException("expected a time in UTC");
    }

    public override void Write(Utf8JsonWriter writer, DateTimeOffset value, JsonSerializerOptions options) =>
        writer.WriteStringValue(value.UtcDateTime.ToString(Form, CultureInfo.InvariantCulture));
}
