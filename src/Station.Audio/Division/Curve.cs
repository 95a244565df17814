namespace Station.Audio.Division;

/// <summary>A value read off straight lines between given points.</summary>
internal static class Curve
{
    /// <summary>Interpolates; beyond the ends, the end values.</summary>
    /// <param name="x">Where.</param>
    /// <param name="points">Rising in x, at least one.</param>
    public static double At(double x, params ReadOnlySpan<(double X, double Y)> points)
    {
        if (x <= points[0].X)
        {
            return points[0].Y;
        }

        for (int i = 1; i < points.Length; i++)
        {
            if (x <= points[i].X)
            {
                return points[i - 1].Y + ((points[i].Y - points[i - 1].Y) * (x - points[i - 1].X) / (points[i].X - points[i - 1].X));
            }
        }

        return points[^1].Y;
    }
}
