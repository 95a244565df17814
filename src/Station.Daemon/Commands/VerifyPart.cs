using System.Buffers.Binary;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace Station.Daemon.Commands;

/// <summary>One of several shares of the bags. A bag's share follows from its folder's name alone: the same on every night and in every copy of the archive.</summary>
/// <param name="Number">From 1.</param>
/// <param name="Of">Shares in all, 1 and up.</param>
internal readonly record struct VerifyPart(int Number, int Of)
{
    /// <summary>Every bag.</summary>
    public static VerifyPart Whole { get; } = new(1, 1);

    /// <summary>Reads <c>2/7</c>.</summary>
    public static bool TryParse(string text, out VerifyPart part)
    {
        string[] parts = text.Split('/');
        part = Whole;
        if (parts.Length != 2 || !int.TryParse(parts[0], NumberStyles.None, CultureInfo.InvariantCulture, out int number)
            || !int.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out int of) || number < 1 || number > of)
        {
            return false;
        }

        part = new VerifyPart(number, of);
        return true;
    }

    /// <summary>Is the bag in this share?</summary>
    /// <param name="bag">Its folder, by whatever path.</param>
    public bool Includes(string bag) =>
        BinaryPrimitives.ReadUInt32BigEndian(SHA256.HashData(Encoding.UTF8.GetBytes(Path.GetFileName(Path.TrimEndingDirectorySeparator(bag))))) % (uint)Of == (uint)Number - 1;
}
