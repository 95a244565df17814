namespace Station.Audio.Meters;

/// <summary>Left, right and their product in one band, summed over blocks.</summary>
internal sealed class BassBand(int expectedBlocks)
{
    private readonly GrowingSeries _left = new(expectedBlocks);
    private readonly GrowingSeries _right = new(expectedBlocks);
    private readonly GrowingSeries _cross = new(expectedBlocks);

    /// <summary>Sum of squares of the left channel in each block.</summary>
    public ReadOnlySpan<float> Left => _left.Values;

    /// <summary>Sum of squares of the right channel in each block.</summary>
    public ReadOnlySpan<float> Right => _right.Values;

    /// <summary>Sum of products in each block.</summary>
    public ReadOnlySpan<float> Cross => _cross.Values;

    /// <summary>Adds a block.</summary>
    /// <param name="left">Sum of squares of the left channel.</param>
    /// <param name="right">Sum of squares of the right channel.</param>
    /// <param name="product">Sum of left times right.</param>
    public void Add(double left, double right, double product)
    {
        _left.AddPower(left);
        _right.AddPower(right);
        _cross.Add(Math.Abs(product) < 1e-37 ? 0 : (float)product);
    }
}
