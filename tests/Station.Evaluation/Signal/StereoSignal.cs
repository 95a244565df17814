using System.Numerics;

namespace Station.Evaluation.Signal;

/// <summary>Two channels of equal length at one rate; 1.0 is the programme's peak on the disc and full scale behind the converter.</summary>
public sealed class StereoSignal
{
    /// <summary>Silence of a given length.</summary>
    /// <param name="frames">Frames.</param>
    /// <param name="sampleRateHz">Hz.</param>
    public StereoSignal(int frames, int sampleRateHz)
    {
        Left = new float[frames];
        Right = new float[frames];
        SampleRateHz = sampleRateHz;
    }

    /// <summary>The left channel.</summary>
    public float[] Left { get; private set; }

    /// <summary>The right channel.</summary>
    public float[] Right { get; private set; }

    /// <summary>Frames per second, Hz.</summary>
    public int SampleRateHz { get; }

    /// <summary>Frames.</summary>
    public int Frames => Left.Length;

    /// <summary>A channel: 0 left, 1 right.</summary>
    public float[] Channel(int index) => index == 0 ? Left : Right;

    /// <summary>Seconds to the nearest frame inside the signal.</summary>
    public int FrameAt(double seconds) => Math.Clamp((int)Math.Round(seconds * SampleRateHz), 0, Frames);

    /// <summary>Puts other samples in place of these.</summary>
    /// <exception cref="ArgumentException">The channels differ in length.</exception>
    public void Replace(float[] left, float[] right)
    {
        ArgumentNullException.ThrowIfNull(left);
        ArgumentNullException.ThrowIfNull(right);
        if (left.Length != right.Length)
        {
            throw new ArgumentException("The channels differ in length.", nameof(right));
        }

        Left = left;
        Right = right;
    }

    /// <summary>Multiplies everything.</summary>
    public void Scale(double gain)
    {
        float g = (float)gain;
        foreach (float[] channel in (float[][])[Left, Right])
        {
            int i = 0;
            for (; i <= channel.Length - Vector<float>.Count; i += Vector<float>.Count)
            {
                (new Vector<float>(channel, i) * g).CopyTo(channel, i);
            }

            for (; i < channel.Length; i++)
            {
                channel[i] *= g;
            }
        }
    }

    /// <summary>Largest magnitude of both channels between two frames.</summary>
    public double Peak(int from, int to)
    {
        float peak = 0;
        foreach (float[] channel in (float[][])[Left, Right])
        {
            int i = Math.Max(from, 0);
            int end = Math.Min(to, channel.Length);
            Vector<float> peaks = Vector<float>.Zero;
            for (; i <= end - Vector<float>.Count; i += Vector<float>.Count)
            {
                peaks = Vector.Max(peaks, Vector.Abs(new Vector<float>(channel, i)));
            }

            for (int lane = 0; lane < Vector<float>.Count; lane++)
            {
                peak = Math.Max(peak, peaks[lane]);
            }

            for (; i < end; i++)
            {
                peak = Math.Max(peak, Math.Abs(channel[i]));
            }
        }

        return peak;
    }

    /// <summary>Root mean square of one channel between two frames, linear.</summary>
    public double Rms(int channel, int from, int to)
    {
        double sum = 0;
        float[] x = Channel(channel);
        from = Math.Max(from, 0);
        to = Math.Min(to, x.Length);
        for (int i = from; i < to; i++)
        {
            sum += (double)x[i] * x[i];
        }

        return to > from ? Math.Sqrt(sum / (to - from)) : 0;
    }
}
