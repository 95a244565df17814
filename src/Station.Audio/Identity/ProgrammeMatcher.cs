using System.Numerics;
using System.Runtime.InteropServices;

namespace Station.Audio.Identity;

/// <summary>
/// Decides whether two captures hold the same programme. A few stretches of the one with less music are looked for everywhere in the other;
/// where one is found, all stretches before and behind it must be found in step. Pure.
/// </summary>
/// <remarks>
/// Bounded: at most <see cref="Probes"/> passes over the words of the longer capture, and for each that hits, one over the shorter.
/// A single stretch that fits by chance proves nothing; half of all the music, in step, can't fit by chance.
/// </remarks>
public static class ProgrammeMatcher
{
    /// <summary>Least music that tells a programme, seconds.</summary>
    public const double LeastSeconds = (double)LeastStretches * StretchWords / ProgrammeFingerprint.WordsPerSecond;

    /// <summary>Least share of the music that must be found. Records that share a track or two (own choice) are different programmes.</summary>
    public const double LeastShare = 0.5;

    private const int StretchWords = 40;
    private const int StretchBits = StretchWords * ProgrammeFingerprint.BitsPerWord;
    private const int LeastStretches = 5;

    /// <summary>Words of a stretch that must have music for it to count.</summary>
    private const int LeastMusicWords = 30;

    private const int Probes = 6;

    // The paper's decision: the same where at most 35 % of the bits differ; chance gives 50 %.
    private const int MostErrors = StretchBits * 35 / 100;

    // When a probe is looked for everywhere, places that differ by more than this in the first third are not looked at to the end. Of places that fit by
    // chance four in five end so; of stretches that truly match within the 35 %, few enough that the other probes find them (the campaign shows it).
    private const int FirstWords = 3;
    private const int HopelessFirst = FirstWords * 64 * 43 / 100;

    // Turntables that are 1.5 % off either way differ by 3 %.
    private const double MostSpeedDifference = 0.03;
    private const int MostSearchWords = 12;

    /// <summary>Looks for the programme of one capture in another.</summary>
    /// <returns>Null when they hold different programmes, or one holds less than <see cref="LeastSeconds"/> of music.</returns>
    public static ProgrammeMatch? Find(ProgrammeFingerprint first, ProgrammeFingerprint second)
    {
        ArgumentNullException.ThrowIfNull(first);
        ArgumentNullException.ThrowIfNull(second);
        return first.MusicSeconds <= second.MusicSeconds
            ? FindIn(first, second)?.Told(swapped: false)
            : FindIn(second, first)?.Told(swapped: true);
    }

    private static Chain? FindIn(ProgrammeFingerprint shorter, ProgrammeFingerprint longer)
    {
        int[] stretches = Stretches(shorter);
        if (stretches.Length < LeastStretches || longer.Words.Length < StretchWords)
        {
            return null;
        }

        int needed = Math.Max(LeastStretches, (int)Math.Ceiling(LeastShare * stretches.Length));
        int probes = Math.Min(Probes, stretches.Length);
        for (int probe = 0; probe < probes; probe++)
        {
            int index = ((2 * probe) + 1) * stretches.Length / (2 * probes);
            (int at, int errors) = Best(shorter, stretches[index], longer, 0, longer.Words.Length - StretchWords, HopelessFirst);
            if (errors <= MostErrors && Chain.Grow(shorter, longer, stretches, index, at) is { } chain && chain.Count >= needed)
            {
                return chain;
            }
        }

        return null;
    }

    private static int[] Stretches(ProgrammeFingerprint print) =>
    [
        .. Enumerable.Range(0, print.Words.Length / StretchWords).Select(i => i * StretchWords)
            .Where(first => print.MusicWords(first, StretchWords) >= LeastMusicWords),
    ];

    /// <summary>The place between two others where a stretch fits best; among equals the first.</summary>
    /// <param name="hopeless">Differing bits in the first words with which a place is left at once.</param>
    private static (int At, int Errors) Best(ProgrammeFingerprint of, int first, ProgrammeFingerprint other, int from, int to, int hopeless = StretchBits)
    {
        ReadOnlySpan<ulong> stretch = MemoryMarshal.Cast<ushort, ulong>(of.Words.Slice(first, StretchWords));
        ReadOnlySpan<ushort> words = other.Words;
        (int At, int Errors) best = (from, StretchBits);
        for (int at = Math.Max(from, 0); at <= Math.Min(to, words.Length - StretchWords); at++)
        {
            if (other.MusicWords(at, StretchWords) < LeastMusicWords / 2)
            {
                continue;
            }

            ReadOnlySpan<ulong> there = MemoryMarshal.Cast<ushort, ulong>(words.Slice(at, StretchWords));
            int errors = 0;
            for (int i = 0; i < FirstWords; i++)
            {
                errors += BitOperations.PopCount(stretch[i] ^ there[i]);
            }

            if (errors > hopeless)
            {
                continue;
            }

            for (int i = FirstWords; i < stretch.Length; i++)
            {
                errors += BitOperations.PopCount(stretch[i] ^ there[i]);
            }

            if (errors < best.Errors)
            {
                best = (at, errors);
            }
        }

        return best;
    }

    /// <summary>Stretches found one behind the other at one speed.</summary>
    /// <param name="Count">How many.</param>
    /// <param name="All">Stretches that have music in the capture that was searched for.</param>
    /// <param name="First">The first of them: its word in either capture.</param>
    /// <param name="Last">The last of them.</param>
    private readonly record struct Chain(int Count, int All, (int In, int At) First, (int In, int At) Last)
    {
        public static Chain Grow(ProgrammeFingerprint shorter, ProgrammeFingerprint longer, int[] stretches, int probe, int at)
        {
            (int In, int At) seed = (stretches[probe], at);
            (int before, (int In, int At) first) = Walk(-1);
            (int behind, (int In, int At) last) = Walk(+1);
            return new Chain(before + 1 + behind, stretches.Length, first, last);

            (int Count, (int In, int At) End) Walk(int direction)
            {
                int count = 0;
                (int In, int At) end = seed;
                double speed = 1;
                for (int i = probe + direction; i >= 0 && i < stretches.Length; i += direction)
                {
                    int step = stretches[i] - end.In;
                    int expected = end.At + (int)Math.Round(step * speed);
                    int search = Math.Min(MostSearchWords, 2 + (int)Math.Ceiling(Math.Abs(step) * MostSpeedDifference));
                    (int found, int errors) = Best(shorter, stretches[i], longer, expected - search, expected + search);
                    if (errors > MostErrors)
                    {
                        continue;
                    }

                    count++;
                    end = (stretches[i], found);
                    if (Math.Abs(end.In - seed.In) >= 3 * StretchWords)
                    {
                        speed = Math.Clamp((double)(end.At - seed.At) / (end.In - seed.In), 1 - MostSpeedDifference, 1 + MostSpeedDifference);
                    }
                }

                return (count, end);
            }
        }

        public ProgrammeMatch Told(bool swapped)
        {
            ((int Start, int End) mine, (int Start, int End) other) = swapped
                ? ((First.At, Last.At), (First.In, Last.In))
                : ((First.In, Last.In), (First.At, Last.At));
            double speed = mine.End == mine.Start ? 1 : (double)(other.End - other.Start) / (mine.End - mine.Start);
            return new ProgrammeMatch(
                Seconds(mine.Start), Seconds(mine.End + StretchWords), Seconds(other.Start), Seconds(Count * StretchWords), (double)Count / All, speed);
        }

        private static double Seconds(int words) => (double)words / ProgrammeFingerprint.WordsPerSecond;
    }
}
