namespace Station.Evaluation.Signal;

/// <summary>
/// sin(step·i + phase) for frames in a row: a pointer turned on by one complex multiplication a frame instead of a sine, set afresh every 4096 frames
/// so that no error grows.
/// </summary>
/// <param name="step">Radians a frame.</param>
/// <param name="phase">Radians at frame 0.</param>
public sealed class Pointer(double step, double phase)
{
    private readonly double _cosine = Math.Cos(step);
    private readonly double _sine = Math.Sin(step);
    private double _x;
    private double _y;
    private int _left;

    /// <summary>The sine at a frame. Frames are asked for one after the other.</summary>
    public double Sine(int frame)
    {
        if (_left-- == 0)
        {
            (_y, _x) = Math.SinCos((step * frame) + phase);
            _left = 4095;
            return _y;
        }

        (_x, _y) = ((_x * _cosine) - (_y * _sine), (_x * _sine) + (_y * _cosine));
        return _y;
    }
}
