using System.Security.Cryptography;
using Station.Audio.Reading;
using Station.Mutation.Mutations;

namespace Station.Mutation.Checks;

/// <summary>One file on its way through a reader.</summary>
internal sealed class CaptureRun(MutatedFile file, ReadingWay way, ReaderLimits limits)
{
    private static readonly string[] Containers = ["wav", "rf64", "bw64", "w64", "aiff", "aifc", "flac"];

    private readonly Lock _gate = new();
    private long _received;
    private bool _closed;
    private long _frames;

    public List<string> Faults { get; } = [];

    /// <summary>The byte sink: compares with the file as it comes.</summary>
    public void Receive(ReadOnlySpan<byte> bytes)
    {
        lock (_gate)
        {
            long from = _received;
            _received += bytes.Length;
            if (_closed)
            {
                Fault("the sink got bytes after the end");
            }

            if (way == ReadingWay.SinkFails && _received > file.Length / 2)
            {
                throw new SinkFailedException();
            }

            bool disturbed = way is ReadingWay.CutMeanwhile or ReadingWay.GrownMeanwhile;
            if (disturbed || way == ReadingWay.OpenOnly)
            {
                return;
            }

            if (_received > file.Content.Length)
            {
                Fault(FormattableString.Invariant($"the sink got {_received} bytes of {file.Content.Length}"));
            }
            else if (!bytes.SequenceEqual(file.Content.AsSpan((int)from, bytes.Length)))
            {
                Fault(FormattableString.Invariant($"the sink got other bytes than the file's from byte {from}"));
            }
        }
    }

    public FileVerdict Read(CaptureOpening opening, string path)
    {
        if (_received > 0)
        {
            Fault("the sink was called inside Open");
        }

        if (opening.Refusal is { } refusal)
        {
            if (opening.Reader is { } both)
            {
                both.Dispose();
                Fault("both a reader and a refusal");
            }

            RefusalCheck.Refusal(refusal, file.Length, Faults);
            return new() { Outcome = Outcome.Refused, Faults = Faults, Remark = refusal.OneLine };
        }

        if (opening.Reader is not { } reader)
        {
            Fault("neither a reader nor a refusal");
            return new() { Outcome = Outcome.ReadingFailed, Faults = Faults };
        }

        FileVerdict verdict;
        try
        {
            Format(reader);
            Disturb(path);
            verdict = way is ReadingWay.OpenOnly ? Left(reader) : Blocks(reader);
        }
        catch (CaptureRefusedException refused)
        {
            RefusalCheck.Refusal(refused.Refusal, file.Length, Faults);
            verdict = Ended(reader, Outcome.RefusedWhileRead, refused.Message);
        }
        catch (IOException error)
        {
            if (way is not (ReadingWay.CutMeanwhile or ReadingWay.GrownMeanwhile or ReadingWay.SinkFails))
            {
                Fault($"an I/O failure of a file that nobody touched: {CaptureCheck.Flat(error)}");
            }

            verdict = Ended(reader, Outcome.ReadingFailed, error.Message);
        }
        catch (SinkFailedException)
        {
            verdict = Ended(reader, Outcome.ReadingFailed, "the sink failed, as meant");
        }
#pragma warning disable CA1031 // Whatever comes out that is not documented is what is looked for.
        catch (Exception error)
#pragma warning restore CA1031
        {
            Fault($"undocumented {error.GetType().Name}: {CaptureCheck.Flat(error)}");
            verdict = Ended(reader, Outcome.ReadingFailed, error.Message);
        }

        reader.Dispose();
        lock (_gate)
        {
            _closed = true;
        }

        return verdict;
    }

    private void Disturb(string path)
    {
        if (way == ReadingWay.CutMeanwhile)
        {
            using var stream = new FileStream(path, FileMode.Open, FileAccess.Write, FileShare.ReadWrite);
            stream.SetLength(file.Length / 2);
        }
        else if (way == ReadingWay.GrownMeanwhile)
        {
            using var stream = new FileStream(path, FileMode.Append, FileAccess.Write, FileShare.ReadWrite);
            stream.Write(new byte[100]);
        }
    }

    private FileVerdict Left(CaptureReader reader) => Ended(reader, Outcome.Left, "");

    private FileVerdict Blocks(CaptureReader reader)
    {
        using IncrementalHash sha256 = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        using IncrementalHash md5 = IncrementalHash.CreateHash(HashAlgorithmName.MD5);
        while (true)
        {
            CaptureBlock block = reader.Read();
            if (block.IsEmpty)
            {
                break;
            }

            Block(reader, block);
            sha256.AppendData(block.Words);
            md5.AppendData(block.Words);
            _frames += block.Frames;
            if (way == ReadingWay.LeftEarly)
            {
                return Left(reader);
            }
        }

        lock (_gate)
        {
            _closed = true;
        }

        if (!reader.Read().IsEmpty)
        {
            Fault("another block after the empty one");
        }

        End(reader, Convert.ToHexString(md5.GetCurrentHash()));
        return Ended(reader, reader.Repairs.Count == 0 ? Outcome.Taken : Outcome.TakenWithRepairs, string.Join(" / ", reader.Repairs.Select(r => r.Message)))
            with
        {
            WordsSha256 = Convert.ToHexString(sha256.GetCurrentHash()),
            SoundIsSure = reader.Repairs.All(r => !r.SoundInDoubt),
        };
    }

    private FileVerdict Ended(CaptureReader reader, Outcome outcome, string remark) =>
        new() { Outcome = outcome, Faults = Faults, Format = reader.Format, Remark = remark };

    private void Format(CaptureReader reader)
    {
        CaptureFormat format = reader.Format;
        if (!Containers.Contains(format.Container))
        {
            Fault($"the container '{format.Container}' is unknown");
        }

        if (format.Channels is not (1 or 2))
        {
            Fault(FormattableString.Invariant($"{format.Channels} channels"));
        }

        if (format.SampleRateHz < limits.MinSampleRateHz || format.SampleRateHz > limits.MaxSampleRateHz)
        {
            Fault(FormattableString.Invariant($"{format.SampleRateHz} Hz"));
        }

        if (format.BitsPerSample is < 16 or > 64 || format.BitsPerSample > 8 * format.BytesPerSample)
        {
            Fault(FormattableString.Invariant($"{format.BitsPerSample} bits in {format.BytesPerSample} bytes"));
        }

        if (format.Frames < 0 || format.DurationSeconds > limits.MaxDurationSeconds || file.Length > limits.MaxFileBytes)
        {
            Fault(FormattableString.Invariant($"{format.Frames} frames in {file.Length} bytes are beyond the limits"));
        }

        OriginalLayout layout = reader.Layout;
        if (layout.ReversedWordBytes != (format.BigEndianInFile ? format.BytesPerSample : 0))
        {
            Fault(FormattableString.Invariant($"{layout.ReversedWordBytes} bytes of a word of {format.BytesPerSample} are to be reversed, big-endian in the file: {format.BigEndianInFile}"));
        }

        if (layout.WholeFileIsMaster)
        {
            if (format.Container != "flac")
            {
                Fault($"a {format.Container} file is said to be its own master");
            }
        }
        else if (layout.HeaderBytes < 0 || layout.WordBytes < 0 || layout.TrailerBytes < 0
            || layout.HeaderBytes + layout.WordBytes + layout.TrailerBytes != file.Length
            || layout.WordBytes != format.Frames * format.BytesPerFrame)
        {
            Fault(FormattableString.Invariant(
                $"{layout.HeaderBytes} + {layout.WordBytes} + {layout.TrailerBytes} bytes for {format.Frames} frames in a file of {file.Length}"));
        }
    }

    private void Block(CaptureReader reader, in CaptureBlock block)
    {
        CaptureFormat format = reader.Format;
        if (block.FirstFrame != _frames || block.Channels != format.Channels || block.Frames > CaptureReader.MaxBlockFrames
            || block.Words.Length != block.Frames * format.BytesPerFrame)
        {
            Fault(FormattableString.Invariant($"a block of {block.Frames} frames and {block.Words.Length} bytes from frame {block.FirstFrame} after {_frames}"));
            return;
        }

        if (!reader.Layout.WholeFileIsMaster && way is not (ReadingWay.CutMeanwhile or ReadingWay.GrownMeanwhile))
        {
            long at = reader.Layout.HeaderBytes + (_frames * format.BytesPerFrame);
            if (at + block.Words.Length > file.Content.Length
                || !AreTheFilesOwn(block.Words, file.Content.AsSpan((int)at, block.Words.Length), reader.Layout.ReversedWordBytes))
            {
                Fault(FormattableString.Invariant($"the words of frame {_frames} are not the file's from byte {at}"));
            }
        }

        int width = format.BytesPerSample;
        int fullScaleBits = format.Container == "flac" ? format.BitsPerSample : 8 * width;
        for (int i = 0; i < block.Samples.Length; i++)
        {
            float expected = PlainSample.Of(block.Words.Slice(i * width, width), format.Words, fullScaleBits);
            if (!block.Samples[i].Equals(expected))
            {
                Fault(FormattableString.Invariant($"sample {i} from frame {_frames} is {block.Samples[i]:R}, its word says {expected:R}"));
                return;
            }
        }
    }

    /// <summary>True when the words, each of <paramref name="reversed"/> bytes turned round again, are what stands in the file.</summary>
    private static bool AreTheFilesOwn(ReadOnlySpan<byte> words, ReadOnlySpan<byte> stored, int reversed)
    {
        if (reversed == 0)
        {
            return words.SequenceEqual(stored);
        }

        for (int at = 0; at < words.Length; at++)
        {
            int first = at - (at % reversed);
            if (words[at] != stored[first + reversed - 1 - (at % reversed)])
            {
                return false;
            }
        }

        return true;
    }

    private void End(CaptureReader reader, string md5)
    {
        if (way is ReadingWay.CutMeanwhile or ReadingWay.GrownMeanwhile && !reader.Layout.WholeFileIsMaster)
        {
            Fault("the file changed its length meanwhile and nobody said so");
            return;
        }

        if (way == ReadingWay.SinkFails && _received > file.Length / 2)
        {
            Fault("the sink failed and nobody said so");
        }

        if (way == ReadingWay.ToTheEnd && _received != file.Length)
        {
            Fault(FormattableString.Invariant($"the sink got {_received} bytes of {file.Length}"));
        }

        CaptureFormat format = reader.Format;
        bool repaired = reader.Repairs.Count > 0;
        if (_frames != format.Frames && (format.Container != "flac" || (format.Frames > 0 && !repaired)))
        {
            Fault(FormattableString.Invariant($"{_frames} frames of {format.Frames} were handed on"));
        }

        if ((double)_frames / format.SampleRateHz > limits.MaxDurationSeconds)
        {
            Fault(FormattableString.Invariant($"{_frames} frames are beyond the limit"));
        }

        foreach (CaptureRepair repair in reader.Repairs)
        {
            RefusalCheck.Repair(repair, file.Length, _frames, Faults);
        }

        if (reader.Repairs.Count > 1000)
        {
            Fault(FormattableString.Invariant($"{reader.Repairs.Count} repairs"));
        }

        if (format.Container == "flac" && !repaired && way == ReadingWay.ToTheEnd)
        {
            FlacStatement? stated = FlacStatement.Of(file.Content);
            if (stated is null || (stated.Frames > 0 && stated.Frames != _frames) || (stated.Md5 is not null && stated.Md5 != md5))
            {
                Fault(FormattableString.Invariant($"the FLAC says {stated}, found without a repair were {_frames} frames with MD5 {md5}"));
            }
        }
    }

    private void Fault(string text)
    {
        lock (_gate)
        {
            if (Faults.Count < 20)
            {
                Faults.Add(text);
            }
        }
    }
}
