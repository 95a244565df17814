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
        if (options.Write is { } one)
        {
            Console.WriteLine(division.Write(one, options.Out ?? throw new ArgumentException("--write needs --out FILE.wav.")));
            return 0;
        }

        DivisionTable divided = division.Evaluate(Console.Error.WriteLine);
        Console.Write(divided.Markdown());
        if (options.Out is { } json)
        {
            File.WriteAllText(json, divided.Json(options.Set == MusicSet.Tuning));
        }

        return divided.Goals().All(g => g.Met) ? 0 : 1;
    }

    var run = new EvaluationRun(options, Console.Error.WriteLine);
    if (options.Write is { } name)
    {
        Console.WriteLine(run.Write(name, options.Out ?? throw new ArgumentException("--write needs --out FILE.wav.")));
        return 0;
    }

    Table table = run.Evaluate(Console.Error.WriteLine);
    Console.Write(table.Markdown());
    if (options.Out is { } file)
    {
        File.WriteAllText(file, table.Json(options.Set == MusicSet.Tuning));
    }

    return table.Goals().All(g => g.Met) ? 0 : 1;
}
catch (ArgumentException fault)
{
    Console.Error.WriteLine(fault.Message);
    return 64;
}
