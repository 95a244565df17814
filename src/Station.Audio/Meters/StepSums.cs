using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>What one step of frames adds up to, in double: sums, not means. For one channel the right-hand lanes repeat the left.</summary>
internal struct StepSums
{
    /// <summary>Sums of squares: K-weighted left, K-weighted right, groove band left, groove band right.</summary>
    public Vector256<double> Filtered;

    /// <summary>Sums of left times right: K-weighted in the lower two lanes, groove band in the upper two.</summary>
    public Vector256<double> FilteredCross;

    /// <summary>Sums of samples, left and right.</summary>
    public Vector128<double> Sum;

    /// <summary>Sums of squared samples, left and right.</summary>
    public Vector128<double> Square;

    /// <summary>Sums of left times right, in both lanes.</summary>
    public Vector128<double> Cross;
}
