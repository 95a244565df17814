using Station.Audio.Encoding;
using Station.Mutation.Checks;
using Station.Mutation.Mutations;
using Station.Mutation.Seeds;

namespace Station.Fuzz;

/// <summary>
/// Opens a capture and, unless it is FLAC, reads it to the end. A FLAC is only opened: its decoder is another process, which coverage does
/// not reach and which would cost a hundred times as long.
/// </summary>
internal sealed class CaptureTarget : IDisposable
{
    private readonly MemoryFile _file = new();
    private readonly CaptureCheck _check = new(CodecTools.FromPath());

    public void Run(byte[] input)
    {
        _file.Fill(input);
        bool flac = input.AsSpan().StartsWith("fLaC"u8) || input.AsSpan().StartsWith("ID3"u8);
        var file = new MutatedFile(0, SeedFamily.Wave, "", input, 0);
        FileVerdict verdict = _check.Run(file, _file.Handle, flac ? ReadingWay.OpenOnly : ReadingWay.ToTheEnd, "");
        if (verdict.Faults.Count > 0)
        {
            throw new BrokenPromiseException(string.Join("; ", verdict.Faults));
        }
    }

    public void Dispose() => _file.Dispose();
}
