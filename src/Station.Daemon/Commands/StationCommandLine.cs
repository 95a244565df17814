using System.CommandLine;
using Station.Archive.Originals;
using Station.Audio.Encoding;
using Station.Audio.Synthesis;
using Station.Daemon.Configuration;
using Station.Daemon.Status;

namespace Station.Daemon.Commands;

/// <summary>The command line: what can be asked of stationd, and what every failure looks like (one line, an exit code).</summary>
internal static class StationCommandLine
{
    private static readonly Option<string?> Config = new("--config") { Description = "Configuration file (JSON with comments)." };
    private static readonly Option<string?> StationFolder = new("--station") { Description = "The station folder; made when absent." };
    private static readonly Option<bool> Json = new("--json") { Description = "Print JSON for scripts." };
    private static readonly Option<string?> Sheet = new("--sheet") { Description = "Record sheet (YAML) that guides division and tags." };

    public static async Task<int> RunAsync(string[] args)
    {
        var root = new RootCommand("Takes in, judges, divides, archives and publishes captures of record sides.")
        {
            Run(), Inspect(), Process(), Accept(), Discard(), Retry(), Identify(), Divide(), Verify(), Restore(), Replica(), Archive(), State(), Demo(), ConfigCheck(),
        };
        ParseResult parsed = root.Parse(args);
        if (parsed.Errors.Count > 0)
        {
            foreach (System.CommandLine.Parsing.ParseError error in parsed.Errors)
            {
                await Console.Error.WriteLineAsync(error.Message);
            }

            return ExitCodes.Usage;
        }

        // No time-out of its own at a termination signal: the host stops the service within its own, longer time.
        return await parsed.InvokeAsync(new InvocationConfiguration { ProcessTerminationTimeout = null, EnableDefaultExceptionHandler = false });
    }

    private static Command Run()
    {
        var listen = new Option<string?>("--listen") { Description = "HOST:PORT of the status endpoint." };
        var command = new Command("run", "Run the service.") { Config, StationFolder, listen };
        Act(command, (parsed, token) =>
        {
            StationConfiguration configuration = StationSetup.Configure(parsed.GetValue(Config), parsed.GetValue(StationFolder));
            if (parsed.GetValue(listen) is { } address)
            {
                configuration.Status.Listen = address;
                ConfigurationFile.ThrowIfInvalid(configuration.Status, "--listen");
            }

            return RunCommand.RunAsync(configuration, token);
        });
        return command;
    }

    private static Command Inspect()
    {
        var file = new Argument<string>("FILE") { Description = "A capture." };
        var command = new Command("inspect", "Judge one capture; nothing is written.") { file, Sheet, Json, Config };
        Act(command, (parsed, token) => InspectCommand.RunAsync(
            parsed.GetRequiredValue(file), parsed.GetValue(Sheet), parsed.GetValue(Json),
            StationSetup.Configure(parsed.GetValue(Config), station: null, needsStation: false), token));
        return command;
    }

    private static Command Process()
    {
        var files = new Argument<string[]>("FILE") { Description = "Captures, named <record>-<side>.wav and so on.", Arity = ArgumentArity.OneOrMore };
        var output = new Option<string>("--out") { Description = "Folder that gets archive/, reports/ and, on accept, listening/.", Required = true };
        var fromBag = new Option<bool>("--from-bag") { Description = "FILE is a bag of the archive: its dropped file is taken the whole way again, and copies are made whatever the verdict." };
        var command = new Command("process", "Take captures the whole way once, without a service. The files are never touched.") { files, fromBag, output, Sheet, Json, Config };
        Act(command, (parsed, token) => ProcessCommand.RunAsync(
            parsed.GetRequiredValue(files), parsed.GetRequiredValue(output), parsed.GetValue(Sheet), parsed.GetValue(Json), parsed.GetValue(fromBag),
            StationSetup.Configure(parsed.GetValue(Config), station: null, needsStation: false), token));
        return command;
    }

    private static Command Accept()
    {
        var capture = CaptureArgument();
        var why = new Option<string>("--why") { Description = "Why the take is good as it is; kept with it.", Required = true };
        var command = new Command("accept", "Accept a held take.") { capture, why, StationFolder, Config };
        Act(command, (parsed, token) => OperatorCommands.AcceptAsync(parsed.GetRequiredValue(capture), parsed.GetRequiredValue(why), Configured(parsed), token));
        return command;
    }

    private static Command Discard()
    {
        var capture = CaptureArgument();
        var why = new Option<string?>("--why") { Description = "Why it is thrown away." };
        var command = new Command("discard", "Throw a held take away: its files go to held/discarded/. A bag is never removed.") { capture, why, StationFolder, Config };
        Act(command, (parsed, token) => OperatorCommands.DiscardAsync(parsed.GetRequiredValue(capture), parsed.GetValue(why), Configured(parsed), token));
        return command;
    }

    private static Command Retry()
    {
        var capture = CaptureArgument();
        var command = new Command("retry", "Try a held or set-aside job again.") { capture, StationFolder, Config };
        Act(command, (parsed, token) => OperatorCommands.RetryAsync(parsed.GetRequiredValue(capture), Configured(parsed), token));
        return command;
    }

    private static Command Identify()
    {
        var capture = CaptureArgument();
        var target = new Option<string>("--as") { Description = "What it is: record and side, such as HL-0032-B, or HL-0032-B.part2.", Required = true };
        var command = new Command("identify", "File a capture under the name it should have had: takes, tracks, listening copies. The bag keeps its own.") { capture, target, Json, StationFolder, Config };
        Act(command, (parsed, token) => OperatorCommands.IdentifyAsync(
            parsed.GetRequiredValue(capture), parsed.GetRequiredValue(target), parsed.GetValue(Json), Configured(parsed), token));
        return command;
    }

    private static Command Divide()
    {
        var record = new Argument<string>("RECORD") { Description = "A record such as HL-0031." };
        var side = new Argument<string>("SIDE") { Description = "One letter." };
        var cue = new Option<string?>("--cue") { Description = "Cue sheet: where the tracks begin, 75 parts to the second." };
        var automatic = new Option<bool>("--automatic") { Description = "Take your cuts back; the service divides by itself again." };
        var command = new Command("divide", "Correct the cuts of a side: its tracks are cut anew from the master, which is not touched.") { record, side, cue, automatic, Json, StationFolder, Config };
        command.Validators.Add(result =>
        {
            if (result.GetValue(cue) is null != result.GetValue(automatic))
            {
                result.AddError("Say either --cue FILE or --automatic.");
            }
        });
        Act(command, (parsed, token) => OperatorCommands.DivideAsync(
            parsed.GetRequiredValue(record), parsed.GetRequiredValue(side), parsed.GetValue(cue), parsed.GetValue(Json), Configured(parsed), token));
        return command;
    }

    private static Command Verify()
    {
        var path = new Argument<string?>("PATH") { Description = "A bag, or a folder of bags; default the station's archive.", Arity = ArgumentArity.ZeroOrOne };
        var quick = new Option<bool>("--quick") { Description = "Names and sizes only." };
        var full = new Option<bool>("--full") { Description = "Every digest; the default." };
        var part = new Option<string?>("--part") { Description = "N/M: only the N-th of M shares of the bags, for an archive that takes more than one night." };
        var command = new Command("verify", "Check bags, without the service and its database.") { path, quick, full, part, Json, StationFolder, Config };
        command.Validators.Add(result =>
        {
            if (result.GetValue(quick) && result.GetValue(full))
            {
                result.AddError("Say either --quick or --full.");
            }

            if (result.GetValue(part) is { } text && !VerifyPart.TryParse(text, out _))
            {
                result.AddError($"--part: expected N/M with N from 1 to M, such as 2/7, found '{text}'.");
            }
        });
        Act(command, (parsed, token) => Task.FromResult(VerifyCommand.Run(
            parsed.GetValue(path) ?? StationSetup.Folders(Configured(parsed)).Archive, parsed.GetValue(quick),
            parsed.GetValue(part) is { } text && VerifyPart.TryParse(text, out VerifyPart share) ? share : VerifyPart.Whole, parsed.GetValue(Json), token)));
        return command;
    }

    private static Command Restore()
    {
        var bag = new Argument<string>("BAG") { Description = "A bag." };
        var output = new Option<string>("--output", "-o") { Description = "The file to make; never overwritten.", Required = true };
        var command = new Command("restore", "Give back the dropped file, bit for bit.") { bag, output };
        Act(command, (parsed, token) => Task.Run(() => RestoreCommand.Run(parsed.GetRequiredValue(bag), parsed.GetRequiredValue(output), token), token));
        return command;
    }

    private static Command Replica()
    {
        var name = new Argument<string>("NAME") { Description = "A replica of the configuration." };
        var prepare = new Command("prepare", "Mark a replica's folder, with its disk mounted: without the mark nothing is ever written there.") { name, StationFolder, Config };
        Act(prepare, (parsed, _) => Task.FromResult(ReplicaCommand.Prepare(parsed.GetRequiredValue(name), Configured(parsed), TimeProvider.System)));
        return new Command("replica", "Further places for bags.") { prepare };
    }

    private static Command Archive()
    {
        var prepare = new Command("prepare", "Mark the archive's folder, with its disk mounted, as this station's: needed after its disk was replaced or exchanged.") { StationFolder, Config };
        Act(prepare, (parsed, token) => ArchiveCommand.PrepareAsync(Configured(parsed), TimeProvider.System, token));
        return new Command("archive", "The place for bags.") { prepare };
    }

    private static Command State()
    {
        var rebuild = new Command("rebuild", "Make the database anew from archive and reports; the old one is kept aside. The service must not run.") { StationFolder, Config };
        Act(rebuild, (parsed, token) => StateCommand.RebuildAsync(Configured(parsed), TimeProvider.System, token));
        return new Command("state", "The station's database.") { rebuild };
    }

    private static Command Demo()
    {
        var into = new Option<string>("--into") { Description = "Folder to put the capture and its sheet in, such as a station's inbox.", Required = true };
        var side = new Option<string>("--side") { Description = "A or B.", DefaultValueFactory = _ => "A" };
        side.AcceptOnlyFromAmong("A", "B");
        var length = new Option<DemoLength>("--length") { Description = "How long the side is.", DefaultValueFactory = _ => DemoLength.Minutes };
        var overdrive = new Option<double>("--overdrive-db") { Description = "Record this much too loud, so that the converter clips." };
        var rate = new Option<int>("--sample-rate") { Description = "Hz.", DefaultValueFactory = _ => 44_100 };
        var bits = new Option<int>("--bits") { Description = "16 or 24.", DefaultValueFactory = _ => 16 };
        bits.AcceptOnlyFromAmong("16", "24");
        var noSheet = new Option<bool>("--no-sheet") { Description = "Only the capture." };
        var command = new Command("demo", "Synthesise a side of an invented record.") { into, side, length, overdrive, rate, bits, noSheet };
        Act(command, (parsed, token) => Task.Run(
            () => DemoCommand.Run(
                parsed.GetRequiredValue(into), parsed.GetRequiredValue(side)[0], parsed.GetValue(length), parsed.GetValue(overdrive), parsed.GetValue(rate),
                parsed.GetValue(bits), !parsed.GetValue(noSheet)),
            token));
        return command;
    }

    private static Command ConfigCheck()
    {
        var check = new Command("check", "Say whether the service would start with this configuration.") { Config, StationFolder };
        Act(check, (parsed, _) => Task.FromResult(ConfigCheckCommand.Run(parsed.GetValue(Config), parsed.GetValue(StationFolder))));
        return new Command("config", "The configuration.") { check };
    }

    private static Argument<string> CaptureArgument() => new("CAPTURE") { Description = "A capture such as HL-0031-B-c1, or a job id." };

    private static StationConfiguration Configured(ParseResult parsed) => StationSetup.Configure(parsed.GetValue(Config), parsed.GetValue(StationFolder));

    /// <summary>Runs the action; what can be expected to go wrong ends as one line and its exit code.</summary>
    private static void Act(Command command, Func<ParseResult, CancellationToken, Task<int>> action) => command.SetAction(async (parsed, token) =>
    {
        try
        {
            return await action(parsed, token);
        }
        catch (ConfigurationException error)
        {
            await Console.Error.WriteLineAsync(error.Message);
            return ExitCodes.Configuration;
        }
        catch (CodecMissingException error)
        {
            await Console.Error.WriteLineAsync(error.Message);
            return ExitCodes.Configuration;
        }
        catch (RestoreMismatchException error)
        {
            await Console.Error.WriteLineAsync(error.Message);
            return ExitCodes.NotValid;
        }
        catch (OperationCanceledException)
        {
            return ExitCodes.Failure;
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException or InvalidDataException or Microsoft.Data.Sqlite.SqliteException)
        {
            await Console.Error.WriteLineAsync(error.Message.ReplaceLineEndings(" "));
            return ExitCodes.Failure;
        }
    });
}
