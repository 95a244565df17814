using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Fixity;

namespace Station.Archive.Originals;

/// <summary>Gives the dropped file back from a bag, bit for bit.</summary>
public static class OriginalRestore
{
    /// <summary>Largest recipe read: far more than any recipe written, far less than memory.</summary>
    private const int MaxRecipeBytes = 1024 * 1024;

    /// <summary>The recipe as it is kept in the bag.</summary>
    /// <returns>UTF-8 JSON for data/original.json.</returns>
    /// <exception cref="ArgumentException">The recipe contradicts itself.</exception>
    public static byte[] WriteRecipe(RestoreRecipe recipe)
    {
        ArgumentNullException.ThrowIfNull(recipe);
        return RecipeFile.Write(recipe);
    }

    /// <summary>Reads data/original.json.</summary>
    /// <exception cref="BagFormatException">Not a recipe, of another version, or it contradicts itself.</exception>
    /// <exception cref="PosixException">Missing or unreadable.</exception>
    public static RestoreRecipe ReadRecipe(string bag)
    {
        ArgumentException.ThrowIfNullOrEmpty(bag);
        string path = PathIn(bag, RestoreRecipe.FileNameInBag);
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out FileIdentity identity);
        if (identity.Bytes > MaxRecipeBytes)
        {
            throw new BagFormatException(path, $"{PathText.Printable(path)}: expected at most {MaxRecipeBytes} bytes, found {identity.Bytes}");
        }

        using MemoryStream json = new();
        FileDigest.ReadAll(file, path, json.Write, bytesRead: null, CancellationToken.None);
        return RecipeFile.Read(path, json.ToArray());
    }

    /// <summary>Writes the dropped file to a stream, part by part, without judging the whole.</summary>
    /// <returns>SHA-256 of what was written, 64 lower-case hexadecimal digits: compare it with the recipe's.</returns>
    /// <exception cref="RestoreMismatchException">A part is longer or shorter than the recipe says.</exception>
    public static string Rebuild(string bag, Stream output, WordSource decode, CancellationToken cancellationToken)
    {
        ArgumentNullException.ThrowIfNull(output);
        ArgumentNullException.ThrowIfNull(decode);
        return Rebuild(bag, ReadRecipe(bag), output, decode, cancellationToken);
    }

    /// <summary>Writes the dropped file to a new file, durably, once its length and SHA-256 are those of the recipe. Never overwrites.</summary>
    /// <exception cref="RestoreMismatchException">It is not the dropped file; nothing is left under the output name.</exception>
    /// <exception cref="PosixException">EEXIST: the output exists. Others as they come; nothing is left.</exception>
    public static void RestoreTo(string bag, string outputPath, WordSource decode, CancellationToken cancellationToken)
    {
        ArgumentException.ThrowIfNullOrEmpty(outputPath);
        ArgumentNullException.ThrowIfNull(decode);
        RestoreRecipe recipe = ReadRecipe(bag);
        if (SafeOpen.TryIdentify(outputPath) is not null)
        {
            // Known before the work; the rename at the end refuses as well.
            throw new PosixException(Errno.Exists, "restore", outputPath);
        }

        DurableFile.WriteNew(outputPath, output =>
        {
            string found = Rebuild(bag, recipe, output, decode, cancellationToken);
            if (found != recipe.Sha256)
            {
                throw new RestoreMismatchException(bag, recipe.FileName, $"SHA-256 {recipe.Sha256}", found);
            }
        });
    }

    private static string Rebuild(string bag, RestoreRecipe recipe, Stream output, WordSource decode, CancellationToken cancellationToken)
    {
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        using RestoreStream stream = new(output, hash, bag);
        foreach (RestorePart part in recipe.Parts)
        {
            cancellationToken.ThrowIfCancellationRequested();
            stream.Begin(part);
            string path = PathIn(bag, part.File);
            using (SafeFileHandle file = SafeOpen.OpenRegular(path, out _))
            {
                if (part.Kind == RestorePartKind.Bytes)
                {
                    FileDigest.ReadAll(file, path, stream.Write, bytesRead: null, cancellationToken);
                }
                else
                {
                    decode(path, stream);
                }
            }

            stream.End();
        }

        return Convert.ToHexStringLower(hash.GetHashAndReset());
    }

    private static string PathIn(string bag, string file) => Path.Combine(Path.GetFullPath(bag), BagPath.Payload + file);
}
