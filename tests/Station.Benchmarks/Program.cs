using Station.Benchmarks;

return args switch
{
    ["job", .. string[] rest] => JobBenchmark.Run(rest),
    ["measure", string result, .. string[] command] => ChildMeasure.Run(result, command),
    _ => Usage(),
};

static int Usage()
{
    Console.Error.WriteLine(
        """
        Benchmarks: dotnet run -c Release --project tests/Station.Benchmarks -- NAME
          job [MINUTES]   whole job against the bare codecs on the same sides: wall, CPU, peak memory, ratios (default 22 minutes)
        """);
    return 64;
}
