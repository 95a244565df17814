using System.Text.Json.Serialization;

namespace Station.Archive.Events;

/// <summary>JSON of one event: one line, characters outside ASCII escaped, members without a value left out.</summary>
[JsonSourceGenerationOptions(
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase,
    UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
    DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    RespectNullableAnnotations = true,
    AllowDuplicateProperties = false,
    Converters = [typeof(UtcInstantConverter)])]
[JsonSerializable(typeof(RecordEvent))]
internal sealed partial class EventJson : JsonSerializerContext;
