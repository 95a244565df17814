using System.Buffers.Binary;
using System.Diagnostics;
using System.Globalization;
using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Synthesis;

/// <summary>The written file as others see it.</summary>
internal static class Wav
{
    public static byte[] BytesOf(SynthesisedSide side)
    {
        using var stream = new MemoryStream();
        side.WriteWav(stream);
        return stream.ToArray();
    }

    /// <summary>Codes of one channel of a 16-bit file with the plain 44-byte header.</summary>
    public static short[] Codes16(byte[] file, int channel)
    {
        short[] codes = new short[(file.Length - 44) / 4];
        for (int i = 0; i < codes.Length; i++)
        {
            codes[i] = BinaryPrimitives.ReadInt16LittleEndian(file.AsSpan(44 + (4 * i) + (2 * channel)));
        }

        return codes;
    }

    /// <summary>Runs a program that must succeed and returns what it wrote to standard output.</summary>
    public static byte[] Run(string program, params string[] arguments)
    {
        var start = new ProcessStartInfo(program) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        using Process process = Process.Start(start) ?? throw new InvalidOperationException(program);
        Task<string> errors = process.StandardError.ReadToEndAsync(TestContext.Current.CancellationToken);
        using var output = new MemoryStream();
        process.StandardOutput.BaseStream.CopyTo(output);
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, string.Create(CultureInfo.InvariantCulture, $"{program} ended with {process.ExitCode}: {errors.GetAwaiter().GetResult()}"));
        return output.ToArray();
    }
}
