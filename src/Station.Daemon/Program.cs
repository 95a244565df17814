using Station.Daemon.Commands;

return await StationCommandLine.RunAsync(args);
