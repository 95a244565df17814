using System.Runtime.CompilerServices;

namespace Station.Audio.Meters.Turns;

/// <summary>Powers in the bands in which grooves are compared: three of the lateral motion, then the same three of the vertical one.</summary>
[InlineArray(Count)]
public struct TurnCells
{
    /// <summary>How many.</summary>
    public const int Count = 6;

#pragma warning disable IDE0044, S1144, CS0169
    private float _first;
#pragma warning restore IDE0044, S1144, CS0169
}
