using Station.Evaluation;
using Station.Evaluation.Dividing;
using Station.Evaluation.Music;
using Station.Evaluation.Scoring;

try
{
    EvaluationOptions options = EvaluationOptions.Parse(args);
    if (options.ListMusic)
    {
        foreach (Track track in MusicLibrary.Listing(options.Cache, options.Set, Console.Error.WriteLine))
        {
            Console.WriteLine($"| {track.Package} | {Path.GetFileName(track.Path)} | {track.Seconds:0} | {track.TopShare:0.00} | {track.BassCorrelation:0.00} | {(TrackScan.Usable(track) ? "" : "left out")} |");
        }

        return 0;
    }

    if (options.Division)
    {
        var division = new DivisionRun(options, Console.Error.WriteLine);
        return Answer(options, division.Write, () =>
        {
            DivisionTable table = division.Evaluate(Console.Error.WriteLine);
            return (table.Markdown(), table.Json(options.Set == MusicSet.Tuning), table.Goals().All(g => g.Met));
        });
    }

    var run = new EvaluationRun(options, Console.Error.WriteLine);
    return Answer(options, run.Write, () =>
    {
        Table table = run.Evaluate(Console.Error.WriteLine);
        return (table.Markdown(), table.Json(options.Set == MusicSet.Tuning), table.Goals().All(g => g.Met));
    });
}
catch (ArgumentException fault)
{
    Console.Error.WriteLine(fault.Message);
    return 64;
}

static int Answer(EvaluationOptions options, Func<string, string, string> write, Func<(string Markdown, string Json, bool Met)> evaluate)
{
    if (options.Write is { } name)
    {
        Console.WriteLine(write(name, options.Out ?? throw new ArgumentException("--write needs --out FILE.wav.")));
        return 0;
    }

    (string markdown, string json, bool met) = evaluate();
    Console.Write(markdown);
    if (options.Out is { } file)
    {
        File.WriteAllText(file, json);
    }

    return met ? 0 : 1;
}
