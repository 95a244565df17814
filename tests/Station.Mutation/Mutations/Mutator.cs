using System.Globalization;
using Station.Mutation.Seeds;

namespace Station.Mutation.Mutations;

/// <summary>Makes the files of a campaign. File N of seed S is always the same file, as long as the seed files are.</summary>
public sealed class Mutator
{
    /// <summary>A FLAC costs a child process: one file in this many.</summary>
    private const int FlacShare = 8;

    private static readonly string[] ChunkIds =
    [
        "RIFF", "RIFX", "RF64", "BW64", "FORM", "WAVE", "AIFF", "AIFC", "fmt ", "data", "ds64", "fact", "LIST", "bext", "JUNK", "FLLR", "COMM", "SSND",
        "FVER", "MARK", "NONE", "sowt", "fl32", "fl64", "FL32", "ulaw", "twos", "in24", "fLaC", "ID3\u0003", "\0\0\0\0", "\n\u001B[2", "wave", "riff",
    ];

    private readonly long _seed;
    private readonly List<SeedFile> _pcm;
    private readonly List<SeedFile> _flac;

    /// <summary>Prepares a campaign.</summary>
    public Mutator(IReadOnlyList<SeedFile> seeds, long seed)
    {
        ArgumentNullException.ThrowIfNull(seeds);
        _seed = seed;
        _pcm = [.. seeds.Where(s => s.Family != SeedFamily.Flac)];
        _flac = [.. seeds.Where(s => s.Family == SeedFamily.Flac)];
    }

    /// <summary>Makes one file.</summary>
    /// <param name="index">From 0.</param>
    public MutatedFile Make(long index)
    {
        var random = new SplitMix(_seed, index);
        SeedFile start = random.Pick(index % FlacShare == 0 ? _flac : _pcm);
        List<string> recipe = [start.Name];
        List<Segment> segments = [.. start.Segments];

        // Most files get one or two wounds: with more of them the first look at the header refuses nearly everything.
        int wounds = random.Pick([1, 1, 1, 1, 1, 2, 2, 4]);
        int rearranged = random.OneIn(4) ? 1 : 0;
        int set = random.Below(1 + wounds - rearranged);
        if (rearranged > 0)
        {
            Rearrange(random, segments, recipe);
        }

        byte[] content = [.. segments.SelectMany(s => s.Bytes)];
        List<Field> fields = Join(segments);
        for (int i = 0; i < set && fields.Count > 0; i++)
        {
            SetField(random, content, random.Pick(fields), recipe);
        }

        while (recipe.Count < 1 + wounds)
        {
            content = ChangeBytes(random, start, content, fields, recipe);
        }

        if (start.Family == SeedFamily.Flac && random.OneIn(2))
        {
            FlacChecksums.PutRight(content);
            recipe.Add("checksums put right");
        }

        long hole = 0;
        if (random.OneIn(100))
        {
            hole = random.Pick<long>([1, 4095, 1L << 20, (1L << 31) + 5, 0xFFFF_FFFF, 5L << 30, (64L << 30) - content.Length, 1L << 40]);
            recipe.Add(FormattableString.Invariant($"hole of {hole}"));
        }

        return new(index, start.Family, string.Join(", ", recipe), content, hole);
    }

    private static List<Field> Join(List<Segment> segments)
    {
        List<Field> fields = [];
        int at = 0;
        foreach (Segment segment in segments)
        {
            fields.AddRange(segment.Fields.Select(f => f with { Offset = f.Offset + at }));
            at += segment.Bytes.Length;
        }

        return fields;
    }

    private void Rearrange(SplitMix random, List<Segment> segments, List<string> recipe)
    {
        int at = random.Below(segments.Count);
        int other = random.Below(segments.Count);
        switch (random.Below(7))
        {
            case 0 when segments.Count > 1:
                segments.RemoveAt(at);
                recipe.Add(FormattableString.Invariant($"without piece {at}"));
                break;
            case 1:
                segments.Insert(other, segments[at]);
                recipe.Add(FormattableString.Invariant($"piece {at} again at {other}"));
                break;
            case 2:
                (segments[at], segments[other]) = (segments[other], segments[at]);
                recipe.Add(FormattableString.Invariant($"pieces {at} and {other} swapped"));
                break;
            case 3:
                SeedFile donor = random.Pick(random.OneIn(4) ? _flac : _pcm);
                int taken = random.Below(donor.Segments.Count);
                segments.Insert(at, donor.Segments[taken]);
                recipe.Add(FormattableString.Invariant($"piece {taken} of {donor.Name} at {at}"));
                break;
            case 4:
                int copies = random.Pick([2, 20, 300, 3000]);
                Segment empty = new SegmentWriter(bigEndian: false).Id(random.Pick(ChunkIds)).Size((ulong)random.Below(2), 4).Done();
                segments.InsertRange(at, Enumerable.Repeat(empty, copies));
                recipe.Add(FormattableString.Invariant($"{copies} empty chunks at {at}"));
                break;
            case 5:
                SeedFile tail = random.Pick(_pcm);
                int from = random.Below(tail.Segments.Count);
                segments.RemoveRange(at, segments.Count - at);
                segments.AddRange(tail.Segments.Skip(from));
                recipe.Add(FormattableString.Invariant($"from piece {at} on {tail.Name} from its piece {from}"));
                break;
            default:
                segments.Insert(at, new Segment(random.OneIn(2) ? random.Bytes(1 + random.Below(40)) : new byte[1 + random.Below(40)], []));
                recipe.Add(FormattableString.Invariant($"stray bytes at piece {at}"));
                break;
        }
    }

    private static void SetField(SplitMix random, byte[] content, Field field, List<string> recipe)
    {
        Span<byte> bytes = content.AsSpan(field.Offset, field.Width);
        if (field.Kind == FieldKind.Identifier)
        {
            byte[] id = System.Text.Encoding.Latin1.GetBytes(random.Pick(ChunkIds));
            if (random.OneIn(3))
            {
                bytes[random.Below(bytes.Length)] ^= (byte)(1 << random.Below(8));
            }
            else
            {
                id.AsSpan(0, Math.Min(id.Length, bytes.Length)).CopyTo(bytes);
            }

            recipe.Add(string.Create(CultureInfo.InvariantCulture, $"id at {field.Offset} = {Convert.ToHexString(bytes)}"));
            return;
        }

        ulong now = 0;
        for (int i = 0; i < field.Width; i++)
        {
            now = (now << 8) | bytes[field.BigEndian ? i : field.Width - 1 - i];
        }

        ulong value = BoundaryValues.Pick(random, field, now, content.Length - field.Offset - field.Width);
        for (int i = 0; i < field.Width; i++)
        {
            bytes[field.BigEndian ? field.Width - 1 - i : i] = (byte)(value >> (8 * i));
        }

        recipe.Add(string.Create(CultureInfo.InvariantCulture, $"{field.Width} bytes at {field.Offset} = {Convert.ToHexString(bytes)}"));
    }

    private byte[] ChangeBytes(SplitMix random, SeedFile start, byte[] content, List<Field> fields, List<string> recipe)
    {
        if (content.Length == 0)
        {
            recipe.Add("one byte");
            return [(byte)random.Next()];
        }

        int at = Place(random, content, fields);
        int count = Math.Min(content.Length - at, random.Pick([1, 2, 3, 4, 8, 24, 100, 1000, 5000]));
        switch (random.Below(9))
        {
            case 0:
                int flips = 1 + random.Below(16);
                for (int i = 0; i < flips; i++)
                {
                    content[Place(random, content, fields)] ^= (byte)(1 << random.Below(8));
                }

                recipe.Add(FormattableString.Invariant($"{flips} bits flipped"));
                return content;
            case 1:
                recipe.Add(FormattableString.Invariant($"cut to {at}"));
                return content[..at];
            case 2:
                recipe.Add(FormattableString.Invariant($"{count} bytes taken out at {at}"));
                return [.. content[..at], .. content[(at + count)..]];
            case 3:
                int added = 1 + random.Below(random.Pick([1, 2, 9, 200, 5000]));
                byte[] more = random.OneIn(2) ? random.Bytes(added) : new byte[added];
                recipe.Add(FormattableString.Invariant($"{added} bytes put in at {at}"));
                return [.. content[..at], .. more, .. content[at..]];
            case 4:
                content.AsSpan(at, count).Clear();
                recipe.Add(FormattableString.Invariant($"{count} zeros from {at}"));
                return content;
            case 5:
                content.AsSpan(at, count).Fill(0xFF);
                recipe.Add(FormattableString.Invariant($"{count} times FF from {at}"));
                return content;
            case 6:
                SeedFile other = random.Pick(random.OneIn(4) ? _flac : _pcm);
                byte[] rest = other.ToBytes();
                int from = random.OneIn(2) ? Math.Min(at, rest.Length) : random.Below(rest.Length);
                recipe.Add(FormattableString.Invariant($"from {at} on {other.Name} from its {from}"));
                return [.. content[..at], .. rest[from..]];
            case 7:
                byte[] tail = random.Below(4) switch
                {
                    0 => random.Bytes(1 + random.Below(3000)),
                    1 => new byte[1 + random.Below(5000)],
                    2 => start.ToBytes(),
                    _ => random.Pick(_pcm).Segments[^1].Bytes,
                };
                recipe.Add(FormattableString.Invariant($"{tail.Length} bytes behind the end"));
                return [.. content, .. tail];
            default:
                random.Bytes(count).CopyTo(content.AsSpan(at));
                recipe.Add(FormattableString.Invariant($"{count} random bytes from {at}"));
                return content;
        }
    }

    /// <summary>Headers are a hundredth of a file and nearly all of what can be got wrong: one place in two is in or beside one.</summary>
    private static int Place(SplitMix random, byte[] content, List<Field> fields)
    {
        int place = random.Below(4) switch
        {
            0 when fields.Count > 0 => random.Pick(fields).Offset + random.Below(12) - 2,
            1 => random.Below(Math.Min(content.Length, 128)),
            _ => random.Below(content.Length),
        };
        return Math.Clamp(place, 0, content.Length - 1);
    }
}
