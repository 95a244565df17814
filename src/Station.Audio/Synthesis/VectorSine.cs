using System.Runtime.Intrinsics;

namespace Station.Audio.Synthesis;

/// <summary>Sine of an angle in turns, eight at a time, within 1e-6.</summary>
internal static class VectorSine
{
    /// <summary>Plainly: sin(2π·turns). Any turns of moderate size.</summary>
    public static Vector256<float> OfTurns(Vector256<float> turns)
    {
        // Into −½ … ½, then folded into −¼ … ¼ where the Taylor series of degree 11 is good to 6e-8.
        Vector256<float> x = turns - Vector256.Floor(turns + Vector256.Create(0.5f));
        var quarter = Vector256.Create(0.25f);
        Vector256<float> half = Vector256.CopySign(Vector256.Create(0.5f), x);
        x = Vector256.ConditionalSelect(Vector256.GreaterThan(Vector256.Abs(x), quarter), half - x, x);
        Vector256<float> square = x * x;

        // (2π)^n / n! with alternating signs, n = 11, 9, 7, 5, 3, 1.
        Vector256<float> y = Vector256.Create(-15.094643f);
        y = (y * square) + Vector256.Create(42.058693f);
        y = (y * square) - Vector256.Create(76.705860f);
        y = (y * square) + Vector256.Create(81.605249f);
        y = (y * square) - Vector256.Create(41.341702f);
        y = (y * square) + Vector256.Create(6.2831855f);
        return y * x;
    }
}
