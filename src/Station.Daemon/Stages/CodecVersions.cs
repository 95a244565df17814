using System.Collections.Immutable;
using Station.Audio.Encoding;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Stages;

/// <summary>The codecs found at start, asked once.</summary>
internal sealed class CodecVersions(CodecTools tools)
{
    /// <exception cref="CodecMissingException">A codec is not installed; the message names the package.</exception>
    public ImmutableArray<ReportCodec> ForReports { get; } = [.. tools.Versions().Select(v => new ReportCodec(v.Name, v.Version))];
}
