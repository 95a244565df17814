using System.Collections.Immutable;

namespace Station.Archive.Bags;

/// <summary>Result of checking a bag.</summary>
/// <param name="IsValid">True when there is no fault (for <see cref="BagDepth.Quick"/>, which compares no digest: nothing is known to be wrong).</param>
/// <param name="Faults">Everything found wrong, by file name; empty for a valid bag.</param>
/// <param name="Warnings">Remarks that leave the bag valid, one line each. A bag this library wrote has none: there, any warning means somebody changed it.</param>
/// <param name="PayloadBytes">Octets found below data/.</param>
/// <param name="PayloadFiles">Files found below data/.</param>
public sealed record BagCheck(bool IsValid, ImmutableArray<BagFault> Faults, ImmutableArray<string> Warnings, long PayloadBytes, int PayloadFiles)
{
    /// <summary>Valid and nothing to remark: what a bag of this service's own must be.</summary>
    public bool IsPristine => IsValid && Warnings.IsEmpty;
}
