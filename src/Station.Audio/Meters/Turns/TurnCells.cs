using System.Runtime.CompilerServices;

namespace Station.Audio.Meters.Turns;

/// <summary>Powers in the bands in which grooves are compared: three of the lateral motion, then the same three of the vertical one.</summary>
[InlineArray(Count)]
public struct TurnCells
{
    /// <summary>How many.</summary>
    public const int Count = 6;

    // The field an inline array is made of; the compiler gives it no other use.
#pragma warning disable IDE0044, S1144, CS0169, RCS1213
    private float _first;
#pragma warning restore IDE0044, S1144, CS0169, RCS1213
}
