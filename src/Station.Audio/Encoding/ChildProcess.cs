using System.ComponentModel;
using System.Diagnostics;
using System.IO.Pipes;
using System.Runtime.InteropServices;

namespace Station.Audio.Encoding;

/// <summary>
/// A codec as a child process: argument list (never a shell line), what it says drained all the while by threads of its own, killed
/// when disposed unfinished.
/// </summary>
internal sealed class ChildProcess : IDisposable
{
    /// <summary>How long a child may take to end once its streams are closed. Codecs write their last block and headers in this time.</summary>
    public static readonly TimeSpan ExitPatience = TimeSpan.FromMinutes(5);

    private readonly Process _process;
    private readonly BoundedText _error = new();
    private readonly BoundedText _output = new();
    private readonly List<Thread> _drains = [];
    private readonly SafeHandle? _inputPipe;
    private readonly int _inputCapacity;
    private bool _inputClosed;
    private bool _disposed;

    private ChildProcess(Process process, bool claimOutput)
    {
        _process = process;
        if (Input is AnonymousPipeClientStream { SafePipeHandle: { } pipe })
        {
            (_inputPipe, _inputCapacity) = (pipe, WidePipe.Widen(pipe));
        }

        Drain(process.StandardError.BaseStream, _error);
        if (!claimOutput)
        {
            Drain(process.StandardOutput.BaseStream, _output);
        }
    }

    /// <summary>The child's stdout, when it was claimed as data.</summary>
    public Stream Output => _process.StandardOutput.BaseStream;

    /// <summary>The end of what it wrote to stderr; whole once it has exited.</summary>
    public string StandardError => _error.OneLine;

    /// <summary>The end of what it wrote to stdout, when that was not claimed.</summary>
    public string StandardOutput => _output.OneLine;

    /// <summary>For tests that kill it.</summary>
    public int Id => _process.Id;

    private Stream Input => _process.StandardInput.BaseStream;

    /// <summary>Starts a codec.</summary>
    /// <param name="program">What it is.</param>
    /// <param name="path">Absolute path.</param>
    /// <param name="arguments">Passed on as they are.</param>
    /// <param name="claimOutput">True when the caller reads <see cref="Output"/>.</param>
    /// <exception cref="CodecMissingException">There is no such program, or it cannot be started.</exception>
    public static ChildProcess Start(CodecProgram program, string path, IReadOnlyList<string> arguments, bool claimOutput = false)
    {
        // A bare name would be looked up in the working folder before PATH.
        if (!Path.IsPathFullyQualified(path) || !File.Exists(path))
        {
            throw new CodecMissingException(path.Length == 0 ? program.Name : path, program.DebianPackage, "is not there");
        }

        var start = new ProcessStartInfo(path, arguments)
        {
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            UseShellExecute = false,
        };
        start.Environment["LC_ALL"] = "C";
        start.Environment.Remove("LAMEOPT"); // lame takes options from it
        var process = new Process { StartInfo = start };
        try
        {
            process.Start();
        }
        catch (Win32Exception e)
        {
            process.Dispose();
            throw new CodecMissingException(path, program.DebianPackage, $"cannot be started ({e.Message})", e);
        }

        return new ChildProcess(process, claimOutput);
    }

    /// <summary>Hands bytes to the child; waits while it is busy.</summary>
    /// <exception cref="IOException">It is gone, or takes no more: "broken pipe", or a misleading "connection timed out". The cause is in its exit code and in what it said.</exception>
    public void Write(ReadOnlySpan<byte> bytes)
    {
        if (_inputPipe is not null)
        {
            WidePipe.AwaitRoom(_inputPipe, _inputCapacity, _process);
        }

        Input.Write(bytes);
    }

    /// <summary>Tells the child that there is no more input. A child that is gone already is no error here: its exit code says why.</summary>
    public void CloseInput()
    {
        if (_inputClosed)
        {
            return;
        }

        _inputClosed = true;
        try
        {
            Input.Dispose();
        }
        catch (IOException)
        {
            // Nothing is buffered in this stream; the pipe is gone either way.
        }
    }

    /// <summary>Waits until the child has ended and everything it said was read.</summary>
    /// <returns>Exit code; 128 + the signal number when it was killed, also when it was killed here for taking too long.</returns>
    public int WaitForExit(TimeSpan? patience = null)
    {
        if (!_process.WaitForExit(patience ?? ExitPatience))
        {
            Kill();
            _process.WaitForExit();
        }

        foreach (Thread drain in _drains)
        {
            drain.Join();
        }

        return _process.ExitCode;
    }

    /// <summary>Ends the child at once; no error when it has ended.</summary>
    public void Kill()
    {
        if (!_disposed)
        {
            _process.Kill();
        }
    }

    public void Dispose()
    {
        if (_disposed)
        {
            return;
        }

        Kill();
        CloseInput();
        WaitForExit();
        _disposed = true;

        // Process leaves a redirected stream open once it was handed out: its pipe would stay until a finalizer runs.
        _process.StandardOutput.Dispose();
        _process.StandardError.Dispose();
        _process.Dispose();
    }

    private void Drain(Stream stream, BoundedText text)
    {
        // Threads, not the pool: a blocked read of a pipe would take a pool thread for as long as the codec runs.
        var thread = new Thread(() => text.Drain(stream)) { IsBackground = true, Name = "codec output" };
        thread.Start();
        _drains.Add(thread);
    }
}
