using Microsoft.Extensions.Logging;

namespace Station.Daemon.Commands;

/// <summary>Warnings and errors of a single command, one line each on standard error.</summary>
internal sealed class StandardErrorLog : ILoggerProvider, ILogger
{
    public ILogger CreateLogger(string categoryName) => this;

    public IDisposable? BeginScope<TState>(TState state)
        where TState : notnull => null;

    public bool IsEnabled(LogLevel logLevel) => logLevel >= LogLevel.Warning;

    public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter)
    {
        if (IsEnabled(logLevel))
        {
            Console.Error.WriteLine($"{formatter(state, exception)}{(exception is null ? "" : ": " + exception.Message)}".ReplaceLineEndings(" "));
        }
    }

    public void Dispose()
    {
        // Nothing is held: standard error belongs to the process.
    }
}
