using Station.Evaluation.Signal;

namespace Station.Evaluation.Faults;

/// <summary>What musicians and engineers do that a detector may take for a fault. The excerpt comes at an RMS of about 0.1.</summary>
public static class StudioTricks
{
    private static readonly double[] DeepNotesHz = [49.0, 51.91, 55.0, 58.27, 61.74];        // G1, A♭1, A1, B♭1, B1 in equal temperament

    /// <summary>A look-ahead limiter driven by 8 to 12 dB: loud, hardly any crest, no flat tops.</summary>
    public static void Brickwall(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        double ceiling = music.Peak(0, music.Frames) * Decibel.ToLinear(-random.Between(8, 12));
        int half = music.SampleRateHz / 500;          // 2 ms before and after
        int frames = music.Frames;
        float[] needed = new float[frames];
        for (int i = 0; i < frames; i++)
        {
            needed[i] = (float)Math.Min(1, ceiling / (Math.Max(Math.Abs(music.Left[i]), Math.Abs(music.Right[i])) + 1e-9));
        }

        // The least gain needed within the window (a queue of falling candidates), then the mean over a window of the same length.
        var queue = new int[frames];
        int head = 0;
        int tail = 0;
        float[] least = new float[frames];
        for (int i = 0; i < frames + half; i++)
        {
            if (i < frames)
            {
                while (tail > head && needed[queue[tail - 1]] >= needed[i])
                {
                    tail--;
                }

                queue[tail++] = i;
            }

            int centre = i - half;
            if (centre >= 0)
            {
                while (queue[head] < centre - half)
                {
                    head++;
                }

                least[centre] = needed[queue[head]];
            }
        }

        double sum = 0;
        for (int i = 0; i < frames + half; i++)
        {
            sum += least[Math.Min(i, frames - 1)];
            sum -= i >= (2 * half) + 1 ? least[i - (2 * half) - 1] : 0;
            int centre = i - half;
            if (centre >= 0)
            {
                float gain = (float)(sum / Math.Min((2 * half) + 1, i + 1));
                music.Left[centre] *= gain;
                music.Right[centre] *= gain;
            }
        }

        music.Scale(0.1 / Math.Max(music.Rms(0, 0, frames), 1e-6));
    }

    /// <summary>A bass line of notes between 49 and 62 Hz.</summary>
    public static void DeepBass(StereoSignal music, SeededRandom random) => BassLine(music, random, 0.4, 3, 0.06);

    /// <summary>Notes of the same pitches held for up to fifteen seconds.</summary>
    public static void OrganPedal(StereoSignal music, SeededRandom random) => BassLine(music, random, 5, 15, 0.045);

    /// <summary>Hardly any width.</summary>
    public static void Narrow(StereoSignal music, SeededRandom random) => Width(music, 1, random.Between(0.03, 0.15), 0);

    /// <summary>More difference than sum above 300 Hz.</summary>
    public static void Wide(StereoSignal music, SeededRandom random) => Width(music, random.Between(0.3, 0.6), random.Between(1.5, 2.5), 300);

    /// <summary>Eight to fifteen seconds of applause at the end, over into what follows.</summary>
    public static void Applause(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        double seconds = random.Between(8, 15);
        int from = Math.Max(0, music.Frames - (int)(seconds * music.SampleRateHz));
        int rate = music.SampleRateHz;
        int people = random.Whole(60, 200);
        for (int person = 0; person < people; person++)
        {
            double pan = random.NextUnit();
            double hz = random.Between(700, 2600);
            double decay = random.Between(0.003, 0.012);
            double level = random.Between(0.02, 0.12) / Math.Sqrt(people / 60.0);
            double period = random.Between(0.19, 0.32);
            double stops = random.Between(0.6, 1);
            for (double at = random.Between(0, 1.5); at < seconds * stops; at += period * random.Between(0.9, 1.1))
            {
                Section hand = Section.BandPass(hz * random.Between(0.9, 1.1), 1.2, rate);
                int first = from + (int)(at * rate);
                int length = (int)(6 * decay * rate);
                for (int i = 0; i < length && first + i < music.Frames; i++)
                {
                    double value = level * 3 * Math.Exp(-i / (decay * rate)) * hand.Next(random.NextGaussian());
                    music.Left[first + i] += (float)(value * (1 - pan));
                    music.Right[first + i] += (float)(value * pan);
                }
            }
        }
    }

    /// <summary>Composed silences of one to eight seconds.</summary>
    public static void Pauses(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        int rate = music.SampleRateHz;
        for (double at = random.Between(6, 20); at < ((double)music.Frames / rate) - 14; at += random.Between(12, 30))
        {
            int from = (int)(at * rate);
            int to = from + (int)(random.Between(1, 8) * rate);
            int edge = (int)(random.Between(0.05, 0.4) * rate);
            for (int i = from; i < Math.Min(to, music.Frames); i++)
            {
                float gain = (float)Math.Max(0, Math.Max(1 - ((double)(i - from) / edge), 1 - ((to - i) / (0.01 * rate))));
                music.Left[i] *= gain;
                music.Right[i] *= gain;
            }
        }
    }

    /// <summary>A loud synthesised bass of nearly square waves.</summary>
    public static void SquareBass(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        int rate = music.SampleRateHz;
        double level = random.Between(0.2, 0.4);
        double hard = random.Between(3, 12);
        for (double at = 0; at < (double)music.Frames / rate;)
        {
            double hz = 41.2 * Math.Pow(2, random.Whole(0, 19) / 12.0);
            double seconds = random.Pick([0.2, 0.4, 0.8]);
            int first = (int)(at * rate);
            int length = (int)(seconds * 0.9 * rate);
            for (int i = 0; i < length && first + i < music.Frames; i++)
            {
                double edge = Math.Min(1, Math.Min(i, length - i) / (0.004 * rate));
                float value = (float)(level * edge * Math.Tanh(hard * Math.Sin(2 * Math.PI * hz * i / rate)));
                music.Left[first + i] = (0.5f * music.Left[first + i]) + value;
                music.Right[first + i] = (0.5f * music.Right[first + i]) + value;
            }

            at += seconds;
        }
    }

    /// <summary>A bar of about one turn of an LP, round and round, under layers that come and go.</summary>
    public static void Loops(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        int rate = music.SampleRateHz;
        double bar = random.Chance(0.3) ? 1.8 : random.Between(1.65, 1.95);
        int length = (int)(bar * rate);
        int layers = random.Whole(3, 5);
        int[] starts = [.. Enumerable.Range(0, layers).Select(_ => random.Whole(0, Math.Max(1, music.Frames - length - 1)))];
        for (int channel = 0; channel < 2; channel++)
        {
            float[] from = (float[])music.Channel(channel).Clone();
            float[] to = music.Channel(channel);
            Array.Clear(to);
            for (int layer = 0; layer < layers; layer++)
            {
                // A layer plays for eight bars, rests for eight, out of step with the others; the first never rests.
                for (int start = 0, number = 0; start < to.Length; start += length, number++)
                {
                    if (layer > 0 && ((number / 8) + layer) % 2 == 0)
                    {
                        continue;
                    }

                    for (int i = 0; i < length && start + i < to.Length; i++)
                    {
                        float edge = Math.Min(1, Math.Min(i, length - i) / (0.003f * rate));
                        to[start + i] += edge * from[starts[layer] + i];
                    }
                }
            }
        }
    }

    /// <summary>From whisper to full orchestra: 24 dB in slow waves.</summary>
    public static void Dynamics(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        double period = random.Between(20, 45) * music.SampleRateHz;
        double phase = random.Between(0, 2 * Math.PI);
        for (int i = 0; i < music.Frames; i++)
        {
            float gain = (float)Decibel.ToLinear(-12 + (12 * Math.Sin((2 * Math.PI * i / period) + phase)));
            music.Left[i] *= gain;
            music.Right[i] *= gain;
        }
    }

    /// <summary>Castanets, claves and rim shots: hits as short and sharp as ticks, in time.</summary>
    public static void SharpHits(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        int rate = music.SampleRateHz;
        double beat = random.Between(0.22, 0.6);
        double hz = random.Between(1800, 4200);
        double decay = random.Between(0.002, 0.012);
        double pan = random.Between(0.2, 0.8);
        for (double at = 0; at < (double)music.Frames / rate; at += beat * random.Pick([0.5, 1, 1, 1, 2]))
        {
            int first = (int)((at + random.Between(-0.006, 0.006)) * rate);
            double level = random.Between(0.1, 0.35);
            for (int i = 0; i < (int)(8 * decay * rate) && first + i < music.Frames; i++)
            {
                double t = (double)i / rate;
                double value = level * Math.Exp(-t / decay) * (Math.Sin(2 * Math.PI * hz * t) + (0.5 * Math.Sin(2 * Math.PI * hz * 2.71 * t)));
                if (first + i >= 0)
                {
                    music.Left[first + i] += (float)(value * (1 - pan));
                    music.Right[first + i] += (float)(value * pan);
                }
            }
        }
    }

    /// <summary>Instruments all left or all right, for seconds at a time.</summary>
    public static void PingPong(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        int rate = music.SampleRateHz;
        for (double at = random.Between(2, 10); at < ((double)music.Frames / rate) - 8; at += random.Between(4, 14))
        {
            int from = (int)(at * rate);
            int to = from + (int)(random.Between(0.3, 5) * rate);
            float[] quiet = music.Channel(random.Whole(0, 1));
            int edge = (int)(random.Between(0.01, 0.1) * rate);
            for (int i = from; i < Math.Min(to, music.Frames); i++)
            {
                quiet[i] *= (float)(1 - Math.Min(1, Math.Min((double)(i - from) / edge, (double)(to - i) / edge)));
            }
        }
    }

    /// <summary>Cuts from one place to another with a few milliseconds of cross-fade.</summary>
    public static void TapeEdits(StereoSignal music, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(music);
        ArgumentNullException.ThrowIfNull(random);
        int rate = music.SampleRateHz;
        int fade = (int)(random.Between(0.004, 0.015) * rate);
        int[] places = [.. Enumerable.Range(0, random.Whole(2, 6)).Select(_ => random.Whole(fade, Math.Max(fade + 1, music.Frames - fade - 1))).Order()];
        int jump = random.Whole(rate / 2, 3 * rate);
        foreach (float[] x in (float[][])[music.Left, music.Right])
        {
            float[] tape = (float[])x.Clone();
            int behind = 0;
            int next = 0;
            for (int i = 0; i < x.Length; i++)
            {
                if (next < places.Length && i == places[next])
                {
                    int other = (behind + jump) % Math.Max(1, tape.Length / 3);
                    for (int k = 0; k < fade && i + k < x.Length; k++)
                    {
                        float share = (float)k / fade;
                        x[i + k] = ((1 - share) * tape[(i + k + behind) % tape.Length]) + (share * tape[(i + k + other) % tape.Length]);
                    }

                    behind = other;
                    i += fade - 1;
                    next++;
                    while (next < places.Length && places[next] <= i)
                    {
                        next++;
                    }

                    continue;
                }

                x[i] = tape[(i + behind) % tape.Length];
            }
        }
    }

    private static void BassLine(StereoSignal music, SeededRandom random, double shortest, double longest, double level)
    {
        int rate = music.SampleRateHz;
        for (double at = 0; at < (double)music.Frames / rate;)
        {
            double hz = random.Pick(DeepNotesHz) * (1 + (0.002 * random.Between(-1, 1)));
            double seconds = random.Between(shortest, longest);
            double second = random.Between(0.1, 0.6);
            double third = random.Between(0.05, 0.3);
            int first = (int)(at * rate);
            int length = (int)(seconds * rate);
            for (int i = 0; i < length && first + i < music.Frames; i++)
            {
                double edge = Math.Min(1, Math.Min(i, length - i) / (0.02 * rate));
                double phase = 2 * Math.PI * hz * i / rate;
                float value = (float)(level * edge * (Math.Sin(phase) + (second * Math.Sin(2 * phase)) + (third * Math.Sin(3 * phase))));
                music.Left[first + i] += value;
                music.Right[first + i] += value;
            }

            at += seconds + random.Between(0, 0.3);
        }
    }

    private static void Width(StereoSignal music, double sum, double difference, double aboveHz)
    {
        Section? keep = aboveHz > 0 ? Section.OneZero(aboveHz, music.SampleRateHz) : null;
        for (int i = 0; i < music.Frames; i++)
        {
            double middle = (music.Left[i] + music.Right[i]) / 2.0;
            double side = (music.Left[i] - music.Right[i]) / 2.0;
            if (keep is not null)
            {
                double highMiddle = keep.Next(middle);
                middle = middle - highMiddle + (sum * highMiddle);
                side = side + ((difference - 1) * side);
            }
            else
            {
                middle *= sum;
                side *= difference;
            }

            music.Left[i] = (float)(middle + side);
            music.Right[i] = (float)(middle - side);
        }
    }
}
