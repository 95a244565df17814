using Station.Mutation.Seeds;

namespace Station.Mutation.Mutations;

/// <summary>Values at which a reader of lengths goes wrong.</summary>
internal static class BoundaryValues
{
    private static readonly ulong[] Fixed =
    [
        0, 1, 2, 3, 4, 7, 8, 15, 16, 17, 18, 23, 24, 25, 32, 40, 64, 0x7F, 0x80, 0xFE, 0xFF, 0x100, 0x7FFF, 0x8000, 0xFFFE, 0xFFFF, 0x1_0000,
        0x7F_FFFF, 0x80_0000, 0xFF_FFFF, 0x7FFF_FFFE, 0x7FFF_FFFF, 0x8000_0000, 0xFFFF_FFF7, 0xFFFF_FFF8, 0xFFFF_FFFC, 0xFFFF_FFFE, 0xFFFF_FFFF,
        0x1_0000_0000, 0xF_FFFF_FFFF, 0x7FFF_FFFF_FFFF_FFF7, 0x7FFF_FFFF_FFFF_FFFE, 0x7FFF_FFFF_FFFF_FFFF, 0x8000_0000_0000_0000,
        0xFFFF_FFFF_FFFF_FFE7, 0xFFFF_FFFF_FFFF_FFF8, 0xFFFF_FFFF_FFFF_FFFF,
    ];

    private static readonly ulong[] Numbers =
    [
        0, 1, 2, 3, 4, 6, 7, 8, 12, 16, 17, 20, 24, 32, 33, 48, 64, 65, 255, 8000, 11_025, 22_049, 22_050, 44_100, 48_000, 96_000, 176_400,
        192_000, 192_001, 384_000, 0xFFFE, 0xFFFF, 0x7FFF_FFFF, 0xFFFF_FFFF,
    ];

    /// <summary>A value for a field.</summary>
    /// <param name="random">The file's generator.</param>
    /// <param name="field">Which.</param>
    /// <param name="now">What stands there.</param>
    /// <param name="rest">Bytes of the file behind the field.</param>
    public static ulong Pick(SplitMix random, Field field, ulong now, long rest)
    {
        ulong near = (ulong)(random.Below(9) - 4L);
        unchecked
        {
            return random.Below(8) switch
            {
                0 => now + near,
                1 => now + (8 * near),
                2 => (ulong)rest + near,
                3 => (now * 2) + near,
                4 => (now / 2) + near,
                5 when field.Kind == FieldKind.Number => random.Pick(Numbers),
                6 => random.Next() >> random.Below(64),
                _ => random.Pick(Fixed),
            };
        }
    }
}
