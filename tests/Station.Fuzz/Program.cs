using SharpFuzz;

namespace Station.Fuzz;

/// <summary>What afl-fuzz feeds: one target a run, its input on stdin. Without afl-fuzz around it reads one input and ends.</summary>
internal static class Program
{
    private const int Usage = 64;

    private static int Main(string[] arguments)
    {
        switch (arguments)
        {
            case ["capture"]:
                CaptureTarget? capture = null;
                Feed(input => (capture ??= new()).Run(input));
                return 0;
            case ["flac"]:
                FlacTarget? flac = null;
                Feed(input => (flac ??= new()).Run(input));
                return 0;
            case ["cue"]:
                Feed(CueTarget.Run);
                return 0;
            case ["shelf"]:
                Feed(ShelfTarget.Run);
                return 0;
            case ["picture"]:
                Feed(PictureTarget.Run);
                return 0;
            case ["sheet"]:
                Feed(SheetTarget.Run);
                return 0;
            case ["seeds", string target, string folder]:
                Directory.CreateDirectory(folder);
                foreach ((string name, byte[] content) in Corpus.Of(target))
                {
                    File.WriteAllBytes(Path.Combine(folder, name), content);
                }

                return 0;
            default:
                Console.Error.WriteLine("Station.Fuzz capture|flac|sheet|shelf|cue|picture < INPUT, or Station.Fuzz seeds TARGET FOLDER");
                return Usage;
        }
    }

    /// <summary>Nothing instrumented may run before the fuzzer has set up its map: targets are made inside.</summary>
    private static void Feed(Action<byte[]> target) => Fuzzer.OutOfProcess.Run(stream =>
    {
        using var bytes = new MemoryStream();
        stream.CopyTo(bytes);
        target(bytes.ToArray());
    });
}
