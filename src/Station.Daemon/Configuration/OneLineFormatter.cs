using System.Globalization;
using System.Text;
using Serilog.Events;
using Serilog.Formatting;
using Serilog.Parsing;

namespace Station.Daemon.Configuration;

/// <summary>
/// One event is one line, whatever a file name or an error text holds: control, bidi and line-breaking characters are escaped, and an
/// exception's message follows on the same line. The whole exception is in the JSON log.
/// </summary>
internal sealed class OneLineFormatter : ITextFormatter
{
    public void Format(LogEvent logEvent, TextWriter output)
    {
        var line = new StringBuilder(160);
        line.Append(logEvent.Timestamp.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture));
        line.Append(' ').Append(Short(logEvent.Level)).Append(' ');
        AppendMessage(line, logEvent);
        for (Exception? error = logEvent.Exception; error is not null; error = error.InnerException)
        {
            line.Append(" | ").Append(error.GetType().Name).Append(": ").Append(error.Message);
        }

        foreach (char c in line.ToString())
        {
            if (char.IsControl(c) || c is '\u2028' or '\u2029' || char.GetUnicodeCategory(c) == UnicodeCategory.Format)
            {
                output.Write(c switch { '\n' => " ", '\r' => "", '\t' => " ", _ => string.Create(CultureInfo.InvariantCulture, $"\\u{(int)c:x4}") });
            }
            else
            {
                output.Write(c);
            }
        }

        output.Write('\n');
    }

    /// <summary>The message with its texts as they are; the library's own rendering would put each in quotes.</summary>
    private static void AppendMessage(StringBuilder line, LogEvent logEvent)
    {
        using var writer = new StringWriter(line, CultureInfo.InvariantCulture);
        foreach (MessageTemplateToken token in logEvent.MessageTemplate.Tokens)
        {
            if (token is PropertyToken property && logEvent.Properties.TryGetValue(property.PropertyName, out LogEventPropertyValue? value)
                && value is ScalarValue { Value: string text })
            {
                writer.Write(text);
            }
            else
            {
                token.Render(logEvent.Properties, writer, CultureInfo.InvariantCulture);
            }
        }
    }

    private static string Short(LogEventLevel level) => level switch
    {
        LogEventLevel.Verbose or LogEventLevel.Debug => "DBG",
        LogEventLevel.Information => "INF",
        LogEventLevel.Warning => "WRN",
        _ => "ERR",
    };
}
