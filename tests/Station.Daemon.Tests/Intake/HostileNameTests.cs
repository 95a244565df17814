using System.Diagnostics;
using System.Text;
using Microsoft.Extensions.Logging;
using Station.Daemon.Intake;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Intake;

/// <summary>Names that people, programs and ill will give files: each is kept whole, and no message breaks a line or turns its direction.</summary>
public sealed class HostileNameTests : IDisposable
{
    private readonly InboxFixture _inbox = new();
    private readonly ListLog<InboxSweep> _log = new();

    private TestStation Station => _inbox.Station;

    public void Dispose() => _inbox.Dispose();

    public static TheoryData<string> Refused =>
    [
        "two\nlines-A.wav", "\u001b[31mred-A.wav", "tab\there-A.wav", "quote'\"-A.wav", "$(touch pwned)-A.wav", "-rf-A.wav", "--help.wav", "a..b-A.wav", "%2e%2e%2fetc-A.wav",
        "back\\slash-A.wav", "over\u202Eride-A.wav", "zero\u200Bwidth-A.wav", "line\u2028separator-A.wav", "NUL-A.wav", "con.wav", "COM1-B.flac", "HL-0031-A.wav.", "HL-0031-A.wav ",
        " HL-0031-A.wav", "*", new string('z', 255), new string('\u00e4', 122) + ".wav", "\ufffd-A.wav", "a\u0001b\u007f.xyz",
    ];

    [Theory, MemberData(nameof(Refused))]
    public async Task It_is_set_aside_whole_with_a_reason_of_one_line(string name)
    {
        _inbox.Drop(name, "precious");
        Assert.Equal(1, await SettleAsync(Sweep()));
        string[] kept = TestStation.Tree(Station.Folders.Refused);
        Assert.Equal(2, kept.Length);
        string file = Assert.Single(kept, k => !k.EndsWith(".reason.txt", StringComparison.Ordinal));
        Assert.Equal("precious", await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, file), TestContext.Current.CancellationToken));
        string reason = await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, file + ".reason.txt"), TestContext.Current.CancellationToken);
        AssertOneLine(reason.TrimEnd('\n'));
        AssertOneLine(Assert.Single(_log.Lines));
        Assert.Empty(_inbox.InInbox());
    }

    [Fact]
    public async Task Names_that_differ_in_case_or_in_their_unicode_form_alone_stay_two_files_and_are_both_taken()
    {
        string[] names = ["HL-\u00e4-A.wav", "HL-a\u0308-A.wav", "hl-0031-a.wav", "HL-0031-A.wav", "HL-0031-A.WAV"];
        foreach (string name in names)
        {
            _inbox.Drop(name, name);
        }

        Assert.Equal(names.Length, await SettleAsync(Sweep()));
        Job[] jobs = [.. await Station.Store.JobsAsync(new JobQuery(), CancellationToken.None)];
        Assert.Equal(names.Order(StringComparer.Ordinal), jobs.Select(j => j.Capture.FileName).Order(StringComparer.Ordinal));
        Assert.Equal(names.Length, jobs.Select(j => j.Capture.Label).Distinct(StringComparer.OrdinalIgnoreCase).Count());
        foreach (Job job in jobs)
        {
            Assert.Equal(job.Capture.FileName, await File.ReadAllTextAsync(Station.Folders.Absolute(job.Capture.Location), TestContext.Current.CancellationToken));
        }
    }

    /// <summary>The shell's own way of writing bytes in names; the platform can't.</summary>
    public static TheoryData<string, string> NoUtf8 => new()
    {
        { @"HL-0065\xff-A.wav", "HL-0065%FF-A.wav" },
        { @"M\xfcller-A.wav", "M%FCller-A.wav" },               // Latin-1
        { @"100%-\xc3-A.wav", "100%25-%C3-A.wav" },             // cut in the middle of a character
        { @"a\xed\xa0\x80b.wav", "a%ED%A0%80b.wav" },           // half of a surrogate pair, RFC 3629 section 3
        { @"\xfe\n\x1b[2J.txt", "%FE\n\u001b[2J.txt" },
    };

    [Theory, MemberData(nameof(NoUtf8))]
    public async Task A_name_whose_bytes_are_no_text_is_set_aside_under_an_escaped_one(string shell, string escaped)
    {
        await ShellAsync($"printf precious > \"$1\"/$'{shell}'");
        Assert.Equal(1, await SettleAsync(Sweep()));
        Assert.Empty(_inbox.InInbox());
        Assert.Equal([escaped, escaped + ".reason.txt"], TestStation.Tree(Station.Folders.Refused));
        Assert.Equal("precious", await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, escaped), TestContext.Current.CancellationToken));
        string reason = await File.ReadAllTextAsync(Path.Combine(Station.Folders.Refused, escaped + ".reason.txt"), TestContext.Current.CancellationToken);
        Assert.Contains("not valid UTF-8", reason, StringComparison.Ordinal);
        AssertOneLine(reason.TrimEnd('\n'));
        AssertOneLine(Assert.Single(_log.Lines));
    }

    [Fact]
    public async Task Such_names_are_told_apart_and_settle_like_others()
    {
        InboxSweep sweep = Sweep();
        await ShellAsync("printf one > \"$1\"/$'a\\xff.wav'; printf two > \"$1\"/$'a%FF.wav'; printf three > \"$1\"/$'a\\xfe.wav'; printf x > \"$1\"/$'.\\xff'");
        Assert.Equal(0, await sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds / 2));
        await ShellAsync("printf more >> \"$1\"/$'a\\xff.wav'");
        Assert.Equal(0, await sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds / 2));
        Assert.Equal(2, await sweep.RunAsync(CancellationToken.None));
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        Assert.Equal(1, await sweep.RunAsync(CancellationToken.None));
        Assert.Equal(
            ["onemore", "two", "three"],
            new[] { "a%FF (2).wav", "a%FF.wav", "a%FE.wav" }.Select(f => File.ReadAllText(Path.Combine(Station.Folders.Refused, f))));
        Assert.Single(Directory.EnumerateFileSystemEntries(_inbox.Inbox));      // hidden is hidden
        await ShellAsync("rm \"$1\"/$'.\\xff'");
    }

    [Fact]
    public async Task A_folder_and_a_link_with_such_a_name_stay_and_are_mentioned_once()
    {
        InboxSweep sweep = Sweep();
        await ShellAsync("mkdir \"$1\"/$'scans\\xff'; ln -s /etc/hostname \"$1\"/$'link\\xff.wav'");
        for (int n = 0; n < 3; n++)
        {
            Assert.Equal(0, await SettleAsync(sweep));
        }

        Assert.Equal(2, Directory.EnumerateFileSystemEntries(_inbox.Inbox).Count());
        Assert.Equal(["link%FF.wav: stays in the inbox, it is not a regular file", "scans%FF: stays in the inbox, it is not a regular file"], _log.Lines.Order(StringComparer.Ordinal));
        await ShellAsync("rm -r \"$1\"/*");
    }

    [Fact]
    public async Task Many_bytes_that_are_no_text_still_make_a_name_that_fits()
    {
        await ShellAsync("printf precious > \"$1\"/$(printf '\\377%.0s' $(seq 251)).wav");
        Assert.Equal(1, await SettleAsync(Sweep()));
        Assert.Equal(2, TestStation.Tree(Station.Folders.Refused).Length);
        Assert.All(TestStation.Tree(Station.Folders.Refused), f => Assert.True(Encoding.UTF8.GetByteCount(f) <= 255));
        Assert.True(Station.Keeps("precious"u8.ToArray()));
    }

    private InboxSweep Sweep() => _inbox.Make(Station.Store, log: _log);

    private async Task<int> SettleAsync(InboxSweep sweep)
    {
        int taken = await sweep.RunAsync(CancellationToken.None);
        Station.Clock.Advance(TimeSpan.FromSeconds(InboxFixture.QuietSeconds));
        return taken + await sweep.RunAsync(CancellationToken.None);
    }

    private async Task ShellAsync(string command)
    {
        using Process shell = Process.Start("bash", ["-c", command, "-", _inbox.Inbox]);
        await shell.WaitForExitAsync(TestContext.Current.CancellationToken);
        Assert.Equal(0, shell.ExitCode);
    }

    private static void AssertOneLine(string text)
    {
        Assert.NotEmpty(text);
        Assert.DoesNotMatch(@"[\p{Cc}\p{Cf}\u2028\u2029]", text);
    }
}
