using System.Runtime.Intrinsics;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>An audience: a murmur throughout and applause where it is asked for, made of shaped noise.</summary>
public sealed class Crowd
{
    private readonly double _murmur;
    private readonly double _applause;
    private readonly double _clapsPerSecond;

    /// <summary>Draws an audience: murmur 42 to 32 dB and applause 28 to 17 dB below the programme's peak, RMS.</summary>
    public Crowd(SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(random);
        _murmur = Decibel.ToLinear(random.Between(-42, -32));
        _applause = Decibel.ToLinear(random.Between(-28, -17));
        _clapsPerSecond = random.Between(40, 400);
    }

    /// <summary>Adds the audience.</summary>
    /// <param name="groove">The programme's peak is 1.</param>
    /// <param name="from">First frame of the murmur.</param>
    /// <param name="to">The frame after its last.</param>
    /// <param name="applauses">From and to of each applause, frames.</param>
    /// <param name="random">Its randomness.</param>
    public void AddTo(StereoSignal groove, int from, int to, IReadOnlyList<(int From, int To)> applauses, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(groove);
        ArgumentNullException.ThrowIfNull(applauses);
        ArgumentNullException.ThrowIfNull(random);
        double rate = groove.SampleRateHz;
        var voices = new SectionPair(Section.BandPass(random.Between(350, 600), 0.6, rate), Section.BandPass(random.Between(350, 600), 0.6, rate));
        var hands = new SectionPair(Section.BandPass(random.Between(1300, 2400), 0.6, rate), Section.BandPass(random.Between(1300, 2400), 0.6, rate));
        Section slow = Section.OnePole(2, rate / 64);
        double slowGain = Math.Sqrt(rate / 64 / (Math.PI * 2));

        // White noise of deviation 1 through a band-pass of this width keeps about π/2 · f/Q of the half rate.
        double voiceGain = _murmur / Math.Sqrt(Math.PI / 2 * 475 / 0.6 / (rate / 2));
        double handGain = _applause / Math.Sqrt(Math.PI / 2 * 1850 / 0.6 / (rate / 2));
        double fall = Math.Exp(-64 / (0.012 * rate));
        double clap = 0;
        double talk = 1;
        double clapping = 0;
        int next = 0;
        double clapsPerPiece = _clapsPerSecond * 64 / rate;
        double meanClap = clapsPerPiece / (1 - fall);
        for (int i = from; i < Math.Min(to, groove.Frames); i++)
        {
            if (((i - from) & 63) == 0)
            {
                talk = Math.Max(0.2, 1 + (0.35 * slowGain * slow.Next(random.NextGaussian()))) * Edge(i, from, to, 1.5 * rate);
                while (next < applauses.Count && i >= applauses[next].To)
                {
                    next++;
                }

                clap *= fall;
                for (double due = random.NextInterval(clapsPerPiece); due < 1; due += random.NextInterval(clapsPerPiece))
                {
                    clap += random.Between(0.5, 1.5);
                }

                clapping = next < applauses.Count && i >= applauses[next].From ? Swell(i, applauses[next], rate) * Math.Sqrt(clap / meanClap) : 0;
            }

            var voice = Vector128.Create((double)random.NextGaussian(), random.NextGaussian());
            Vector128<double> sound = voices.Next(voice) * (voiceGain * talk);
            if (clapping > 0)
            {
                sound += hands.Next(voice) * (handGain * clapping);
            }

            groove.Left[i] += (float)sound.GetElement(0);
            groove.Right[i] += (float)sound.GetElement(1);
        }
    }

    /// <summary>Rises in half a second, falls over the last half of its time.</summary>
    private static double Swell(int frame, (int From, int To) applause, double rate)
    {
        double rise = Math.Min(1, (frame - applause.From) / (0.5 * rate));
        double rest = (double)(applause.To - frame) / (applause.To - applause.From);
        return rise * Math.Min(1, Math.Pow(2 * rest, 1.5));
    }

    private static double Edge(int frame, int from, int to, double fade) => Math.Clamp(Math.Min(frame - from, to - frame) / fade, 0, 1);
}
