using System.Text.Json.Serialization;

namespace Station.Archive.Originals;

/// <summary>JSON of the recipe. Strict: a member this version does not know could change what the file means.</summary>
[JsonSourceGenerationOptions(
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase,
    UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
    RespectNullableAnnotations = true,
    RespectRequiredConstructorParameters = true,
    AllowDuplicateProperties = false,
    UseStringEnumConverter = true,
    WriteIndented = true,
    NewLine = "\n")]
[JsonSerializable(typeof(RestoreRecipe))]
internal sealed partial class RecipeJson : JsonSerializerContext;
