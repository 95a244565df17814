using System.Text;
using Station.EndToEnd.Tests.Harness;

namespace Station.EndToEnd.Tests;

/// <summary>Something a station has to do while it is killed.</summary>
/// <param name="What">What tests call it.</param>
/// <param name="Prepare">Brings the station into the state it starts from; null: an empty station.</param>
/// <param name="Drop">Puts into the inbox what the run is about.</param>
/// <param name="Label">The capture whose job must come to its end.</param>
/// <param name="EndLine">What the log says then.</param>
/// <param name="Dropped">Everything that was dropped, and what is to have become of it.</param>
internal sealed record KillScenario(string What, Func<StationFolder, Task>? Prepare, Action<StationFolder> Drop, string Label, string EndLine, Dropped[] Dropped)
{
    private const string Record = "HL-0090";
    private const string Capture = Record + "-A.wav";
    private const string First = Record + "-A-c1";
    private const string Second = Record + "-A-c2";

    public static KillScenario Of(string what)
    {
        Sound clean = Sounds.Clean(90);
        Sound other = Sounds.Clean(91);
        Sound clipped = Sounds.Clipped(90);
        byte[] text = Encoding.UTF8.GetBytes(string.Concat(Enumerable.Repeat("no sound at all\n", 200)));
        return what switch
        {
            "clean side" => new(what, null, WithSheet(clean.Wav), First, First + ": done", [Of(clean, End.Published)]),
            "clipped side" => new(what, null, WithSheet(clipped.Wav), First, First + ": held", [Of(clipped, End.Held)]),
            "accepted side" => new(what, f => HeldAndAcceptedAsync(f, clipped), _ => { }, First, First + ": done", [Of(clipped, End.Published)]),
            "second take" => new(what, f => DoneAsync(f, clean), f => f.Drop(Capture, other.Wav), Second, Second + ": done", [Of(clean, End.Replaced), Of(other, End.Published)]),
            "same bytes again" => new(what, f => DoneAsync(f, clean), f => f.Drop(Capture, clean.Wav), Second, Second + ": nothing new", [Of(clean, End.Published)]),
            "no sound" => new(what, null, f => f.Drop(Capture, text), First, Capture + ": refused", [new(Capture, Record, "A", Tool.Sha256(text), text.Length, End.Refused)]),
            _ => throw new ArgumentOutOfRangeException(nameof(what), what, "No such scenario."),
        };
    }

    public Task PrepareAsync(StationFolder folder) => Prepare?.Invoke(folder) ?? Task.CompletedTask;

    private static Dropped Of(Sound sound, End end) => Harness.Dropped.Of(Record, "A", sound, end);

    private static Action<StationFolder> WithSheet(byte[] capture) => folder =>
    {
        folder.Drop(Record + ".sheet.yaml", Sounds.Sheet(Record));
        folder.Drop(Capture, capture);
    };

    private static Task DoneAsync(StationFolder folder, Sound sound) => RunAsync(folder, sound, First + ": done");

    private static async Task HeldAndAcceptedAsync(StationFolder folder, Sound sound)
    {
        await RunAsync(folder, sound, First + ": held");
        await Tool.MustRunAsync(StationProcess.Program, ["accept", First, "--why", "it is like that", "--config", folder.ConfigurationFile]);
    }

    private static async Task RunAsync(StationFolder folder, Sound sound, string until)
    {
        WithSheet(sound.Wav)(folder);
        await using StationProcess station = await StationProcess.StartAsync(folder);
        await station.WaitForAsync(until);
        await station.StopAsync();
    }
}
