using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>
/// Random damage, seeded: what is read must be the undamaged sound (as it was encoded) with silence in exactly the FLAC frames that were
/// hit, and the repairs must name exactly those stretches.
/// </summary>
public sealed class FlacDamagePropertyTests : IDisposable
{
    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(4)]
    [InlineData(5)]
    [InlineData(6)]
    public void Fifty_random_damages_cost_the_frames_they_hit_and_nothing_else(int seed)
    {
        var random = new Random(seed);
        FlacStream stream = seed switch
        {
            1 => FlacStream.OfFlac(_folder, FlacStream.Sound((11 * 4096) + 100, 2, 2, 1), 2, 2, 44_100, "-5"),
            2 => FlacStream.OfFlac(_folder, FlacStream.Sound((30 * 576) + 17, 3, 2, 2), 3, 2, 96_000, "-8", "-b", "576"),
            3 => FlacStream.OfFlac(_folder, FlacStream.Sound((40 * 192) + 5, 2, 1, 3), 2, 1, 22_050, "-0", "-b", "192"),
            4 => FlacStream.OfFlac(_folder, FlacStream.Sound((11 * 4096) + 100, 2, 2, 4), 2, 2, 48_000, "-8").AsVariable(),
            5 => FlacStream.OfFlac(_folder, FlacStream.Sound((3 * 65_535) + 9, 2, 2, 5), 2, 2, 192_000, "-b", "65535"),
            _ => FlacStream.OfFlac(_folder, FlacStream.Sound((12 * 1152) + 3, 4, 2, 6), 4, 2, 88_200, "-b", "1152"),
        };
        for (int i = 0; i < 50; i++)
        {
            (byte[] file, SortedSet<int> lost, string what) = Damage(stream, random);
            int end = stream.Blocks.Count;
            while (end > 0 && lost.Contains(end - 1))
            {
                end--; // damage that reaches the end is an end
            }

            if (end == 0)
            {
                continue;
            }

            lost.RemoveWhere(b => b >= end);
            ReadResult result = ReadResult.Of(_folder.Write(file, ".flac"));
            try
            {
                FlacDamageTests.AssertSame(stream.Expected(lost, end), result.Words);
                Assert.Equal(stream.Stretches(lost), result.Repairs.Where(r => r.Code == CaptureRepair.Damaged && r.EndFrame is not null).Select(r => (r.Frame!.Value, r.EndFrame!.Value)));
                Assert.Equal(end < stream.Blocks.Count, result.Repairs.Any(r => r.Code == CaptureRepair.Truncated));
                Assert.Equal(lost.Count > 0 || end < stream.Blocks.Count, result.Repairs.Any(r => r.SoundInDoubt));
            }
            catch (Exception e)
            {
                throw new InvalidOperationException($"Damage {i} of seed {seed}: {what}: {string.Join(" | ", result.Repairs.Select(r => r.Message))}", e);
            }
        }
    }

    /// <summary>One to three damages; places are those of the undamaged file, so they are done from the last to the first.</summary>
    private static (byte[] File, SortedSet<int> Lost, string What) Damage(FlacStream stream, Random random)
    {
        byte[] file = stream.File;
        var lost = new SortedSet<int>();
        var what = new List<string>();
        long before = file.Length;
        for (int n = random.Next(1, 4); n > 0; n--)
        {
            int sound = (int)stream.Blocks[0].Offset;
            if (before - sound < 10)
            {
                break;
            }

            int at = random.Next(sound, (int)before);
            int length = Math.Min(1 + random.Next(random.Next(2) == 0 ? 10 : 6000), (int)before - at);
            switch (random.Next(7))
            {
                case 0:
                    file = [.. file[..at], (byte)(file[at] ^ 1 << random.Next(8)), .. file[(at + 1)..]];
                    Hit(at, at + 1, "flip");
                    break;
                case 1:
                    if (file.AsSpan(at, length).ContainsAnyExcept((byte)0))
                    {
                        int first = at + file.AsSpan(at, length).IndexOfAnyExcept((byte)0);
                        int last = at + file.AsSpan(at, length).LastIndexOfAnyExcept((byte)0);
                        file = [.. file[..at], .. new byte[length], .. file[(at + length)..]];
                        HitChanged(first, last + 1);
                    }

                    break;
                case 2:
                    file = [.. file[..at], .. file[(at + length)..]];
                    Hit(at, at + length, "removed");
                    break;
                case 3:
                    byte[] junk = new byte[length];
                    random.NextBytes(junk);
                    file = [.. file[..at], .. junk, .. file[at..]];
                    if (stream.Blocks.All(b => b.Offset != at))
                    {
                        Hit(at - 1, at + 1, "junk put in");
                    }

                    break;
                case 4:
                    FlacStream.Block gone = stream.Blocks.First(b => b.End > at);
                    if (gone.End <= before)
                    {
                        file = [.. file[..(int)gone.Offset], .. file[(int)gone.End..]];
                        at = (int)gone.Offset;
                        Hit(at, (int)gone.End, "frame removed");
                    }

                    break;
                case 5:
                    FlacStream.Block twice = stream.Blocks.First(b => b.End > at);
                    if (twice.End <= before && !lost.Contains(stream.Blocks.ToList().IndexOf(twice)))
                    {
                        file = [.. file[..(int)twice.End], .. file[(int)twice.Offset..]];
                        at = (int)twice.Offset;
                        what.Add(FormattableString.Invariant($"frame {stream.Blocks.ToList().IndexOf(twice)} repeated"));
                    }

                    break;
                default:
                    if (what.Count == 0 && random.Next(3) == 0)
                    {
                        file = file[..at];
                        Hit(at, int.MaxValue, "cut");
                    }

                    break;
            }

            before = at;

            // Zeros put over a stretch that has zeros in it change only the frames with other bytes.
            void HitChanged(int from, int to)
            {
                foreach (FlacStream.Block b in stream.Blocks.Where(b => b.Offset < to && b.End > from))
                {
                    int a = (int)Math.Max(b.Offset, from);
                    if (stream.File.AsSpan(a, (int)Math.Min(b.End, to) - a).ContainsAnyExcept((byte)0))
                    {
                        Hit((int)b.Offset, (int)b.Offset + 1, "zeros");
                    }
                }
            }

            void Hit(int from, int to, string kind)
            {
                for (int b = 0; b < stream.Blocks.Count; b++)
                {
                    if (stream.Blocks[b].Offset < to && stream.Blocks[b].End > from)
                    {
                        lost.Add(b);
                    }
                }

                what.Add(FormattableString.Invariant($"{kind} at {from} to {to}"));
            }
        }

        return (file, lost, string.Join(", ", what));
    }
}
