using System.Globalization;
using System.Text.Json;
using Station.Archive.Bags;
using Station.Archive.Durability;

namespace Station.Archive.Originals;

/// <summary>Text of a recipe and the rules it must follow.</summary>
internal static class RecipeFile
{
    private const int Sha256Digits = 64;

    /// <summary>A word of one byte has no order; none is wider than a 64-bit float.</summary>
    private const int LeastReversed = 2;

    private const int MostReversed = 8;

    /// <exception cref="ArgumentException">The recipe contradicts itself.</exception>
    public static byte[] Write(RestoreRecipe recipe)
    {
        string? fault = Fault(recipe);
        return fault is null
            ? [.. JsonSerializer.SerializeToUtf8Bytes(recipe, RecipeJson.Default.RestoreRecipe), (byte)'\n']
            : throw new ArgumentException(fault, nameof(recipe));
    }

    /// <exception cref="BagFormatException">Not a recipe, of another version, or it contradicts itself.</exception>
    public static RestoreRecipe Read(string path, ReadOnlySpan<byte> json)
    {
        RestoreRecipe? recipe;
        try
        {
            recipe = JsonSerializer.Deserialize(json, RecipeJson.Default.RestoreRecipe);
        }
        catch (JsonException e)
        {
            throw new BagFormatException(path, $"{PathText.Printable(path)}: not a restore recipe: {PathText.Printable(e.Message)}");
        }

        string? fault = recipe is null ? "found null" : Fault(recipe);
        return fault is null ? recipe! : throw new BagFormatException(path, $"{PathText.Printable(path)}: {fault}");
    }

    private static string? Fault(RestoreRecipe recipe)
    {
        if (recipe.Version != RestoreRecipe.CurrentVersion)
        {
            return string.Create(CultureInfo.InvariantCulture, $"version: expected {RestoreRecipe.CurrentVersion}, found {recipe.Version}");
        }

        if (recipe.Sha256.Length != Sha256Digits || !recipe.Sha256.All(char.IsAsciiHexDigitLower))
        {
            return $"sha256: expected {Sha256Digits} lower-case hexadecimal digits, found '{PathText.Printable(recipe.Sha256)}'";
        }

        if (recipe.Parts.IsDefault)
        {
            return "parts: expected a list, found none";
        }

        Int128 total = 0;
        foreach (RestorePart? part in recipe.Parts)
        {
            // The serializer checks members for null, not the items of a list.
            if (part is null)
            {
                return "parts: expected parts, found null";
            }

            if (PartFault(part) is { } fault)
            {
                return $"part '{PathText.Printable(part.File)}': {fault}";
            }

            total += part.Bytes;
        }

        return total == recipe.Bytes ? null : string.Create(CultureInfo.InvariantCulture, $"bytes: expected the sum of the parts, {total}, found {recipe.Bytes}");
    }

    private static string? PartFault(RestorePart part)
    {
        if (!Enum.IsDefined(part.Kind))
        {
            return "kind: unknown";
        }

        if (part.ReversedWordBytes != 0)
        {
            if (part.Kind != RestorePartKind.Words || part.ReversedWordBytes is < LeastReversed or > MostReversed)
            {
                return string.Create(
                    CultureInfo.InvariantCulture, $"reversedWordBytes: expected {LeastReversed} to {MostReversed} for words and none otherwise, found {part.ReversedWordBytes}");
            }

            if (part.Bytes % part.ReversedWordBytes != 0)
            {
                return string.Create(CultureInfo.InvariantCulture, $"bytes: expected whole words of {part.ReversedWordBytes} bytes, found {part.Bytes}");
            }
        }

        return part.Bytes < 0 ? "bytes: expected 0 or more" : BagPath.WhyNotWritable(part.File) is { } reason ? "file: " + reason : null;
    }
}
