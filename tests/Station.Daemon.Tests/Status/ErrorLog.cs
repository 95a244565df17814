using Microsoft.Extensions.Logging;

namespace Station.Daemon.Tests.Status;

/// <summary>Keeps the newest exception the server wrote to its log.</summary>
internal sealed class ErrorLog : ILoggerProvider, ILogger
{
    public Exception? Newest { get; private set; }

    public ILogger CreateLogger(string categoryName) => this;

    public IDisposable? BeginScope<TState>(TState state)
        where TState : notnull => null;

    public bool IsEnabled(LogLevel logLevel) => logLevel >= LogLevel.Warning;

    public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) =>
        Newest = exception ?? Newest;

    public void Dispose()
    {
    }
}
