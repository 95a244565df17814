return Station.Benchmarks.BenchmarkCatalogue.Run(args);
