namespace Station.Daemon.Records;

/// <summary>One side of a record or set: A to Z. Written in either case, kept in capitals; ordered by letter.</summary>
internal readonly record struct SideLetter : IComparable<SideLetter>
{
    // Kept as a distance from A, so that a value nobody set is still a legal side.
    private readonly byte _index;

    private SideLetter(byte index) => _index = index;

    public static SideLetter A => default;

    /// <summary>0 for A to 25 for Z.</summary>
    public int Index => _index;

    public char Value => (char)('A' + _index);

    /// <exception cref="FormatException">The character is no letter A to Z.</exception>
    public static SideLetter Of(char letter) =>
        TryOf(letter, out SideLetter side) ? side : throw new FormatException("a side is one letter A to Z");

    public static bool TryOf(char letter, out SideLetter side)
    {
        bool ok = char.IsAsciiLetter(letter);
        side = ok ? new SideLetter((byte)(char.ToUpperInvariant(letter) - 'A')) : default;
        return ok;
    }

    public static bool TryParse(string? text, out SideLetter side)
    {
        side = default;
        return text is { Length: 1 } && TryOf(text[0], out side);
    }

    public int CompareTo(SideLetter other) => _index.CompareTo(other._index);

    public override string ToString() => Value.ToString();
}
