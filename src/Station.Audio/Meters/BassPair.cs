using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Left, right and their product in the bass, summed over fifths of a second: deep, 55 to 110 Hz, and upper, 110 to 260 Hz.</summary>
/// <remarks>
/// <para>
/// A cutter keeps the bass of both channels together, the deeper the more, because bass that differs between them lifts the stylus out of the groove
/// (common practice, no source); lateral motion is in phase by IEC 60098:2020 §6.2.2 (as excerpted). Below 55 Hz lie rumble, which is vertical as
/// much as lateral, and hum; above 260 Hz music is as wide as it likes (limits: own choice).
/// </para>
/// <para>
/// The samples are averaged over a 64th of a step (3200 values a second), then filtered: second-order Butterworth below, fourth-order above. What the
/// averaging folds into the band from around 3.2 kHz is 21 dB down (computed: sinc at 2940 Hz of 3200).
/// </para>
/// </remarks>
internal sealed class BassPair
{
    /// <summary>Steps of one block.</summary>
    public const int BlockSteps = StepLength.StepsPerSecond / 5;

    private const double LowHz = 55;
    private const double MiddleHz = 110;
    private const double HighHz = 260;

    // Deep left and right, upper left and right.
    private readonly LaneSections _sections;
    private Vector256<double> _squares;
    private Vector256<double> _products;
    private int _steps;

    public BassPair(int sampleRateHz, int expectedSteps)
    {
        double rateHz = StepPieces.RateHz(sampleRateHz, StepPieces.Fine);
        BiquadCoefficients[] deep = Sections(LowHz, MiddleHz, rateHz);
        BiquadCoefficients[] upper = Sections(MiddleHz, HighHz, rateHz);
        _sections = new LaneSections(1, deep, deep, upper, upper);
        int blocks = (expectedSteps / BlockSteps) + 1;
        Deep = new BassBand(blocks);
        Upper = new BassBand(blocks);
    }

    /// <summary>55 to 110 Hz.</summary>
    public BassBand Deep { get; }

    /// <summary>110 to 260 Hz.</summary>
    public BassBand Upper { get; }

    /// <summary>Adds a step of two channels.</summary>
    /// <param name="pieces">Its sums.</param>
    public void Add(StepPieces pieces)
    {
        for (int piece = 0; piece < StepPieces.Fine; piece++)
        {
            (Vector128<double> sums, int frames) = pieces.FinePiece(piece);
            if (frames > 0)
            {
                Vector128<double> mean = sums / frames;
                Vector256<double> bass = _sections.Next(0, Vector256.Create(mean, mean));
                _squares += bass * bass;
                _products += bass * Vector256.Shuffle(bass, Vector256.Create(1L, 0L, 3L, 2L));
            }
        }

        _sections.DropNegligible();
        if (++_steps == BlockSteps)
        {
            EndBlock();
        }
    }

    /// <summary>Ends a block that was begun.</summary>
    public void Finish()
    {
        if (_steps > 0)
        {
            EndBlock();
        }
    }

    private static BiquadCoefficients[] Sections(double lowHz, double highHz, double rateHz) =>
        [SubsonicBand.HighPass(lowHz, rateHz), .. SubsonicBand.FourthOrderLowPass(highHz, rateHz)];

    private void EndBlock()
    {
        Deep.Add(_squares[0], _squares[1], _products[0]);
        Upper.Add(_squares[2], _squares[3], _products[2]);
        (_squares, _products) = (Vector256<double>.Zero, Vector256<double>.Zero);
        _steps = 0;
    }
}
