namespace Station.Evaluation.Faults;

/// <summary>Every class in the order of the findings table.</summary>
public static class FaultCatalogue
{
    /// <summary>All classes whose fault can be heard in a capture.</summary>
    public static IReadOnlyList<FaultClass> All { get; } =
    [
        ClippingFaults.Converter, ClippingFaults.Upstream, ClippingFaults.Saturated, ClippingFaults.Hot, ClippingFaults.Low, ClippingFaults.Invalid,
        WiringFaults.Dead, WiringFaults.Weak, WiringFaults.Reversed, WiringFaults.Identical, WiringFaults.Dropout,
        ChainFaults.Padded, ChainFaults.TopEmpty,
        NoiseFaults.Offset, NoiseFaults.Hum, NoiseFaults.Rumble, NoiseFaults.Surface, NoiseFaults.Crackle,
        ChainFaults.Lost, GrooveFaults.Repeats, GrooveFaults.Skips, GrooveFaults.Locked, NoiseFaults.Scratch, GrooveFaults.SideChange, GrooveFaults.DeadAir,
        GrooveFaults.Speed, GrooveFaults.Wow, ChainFaults.TrebleLoss, ChainFaults.CurveMissing, ChainFaults.CurveDoubled, ChainFaults.BeginsLate,
        ChainFaults.EndsEarly,
    ];
}
