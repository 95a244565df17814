using Microsoft.Extensions.Logging;

namespace Station.Daemon.Tests.Intake;

/// <summary>Keeps what was said, one text a message.</summary>
internal sealed class ListLog<T> : ILogger<T>
{
    public List<string> Lines { get; } = [];

    public IDisposable? BeginScope<TState>(TState state)
        where TState : notnull => null;

    public bool IsEnabled(LogLevel logLevel) => true;

    public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) =>
        Lines.Add(formatter(state, exception));
}
