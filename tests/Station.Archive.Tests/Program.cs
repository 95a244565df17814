using Station.Archive.Tests;
using Station.Archive.Tests.Support;

// Started as "child SCENARIO …" this executable is one of the processes that tests kill, starve or lock out; otherwise it runs the tests.
if (args is ["child", ..])
{
    return ChildScenarios.Run(args[1..]);
}

return args.Contains("--server") || args.Contains("--internal-msbuild-node")
    ? await Xunit.MicrosoftTestingPlatform.TestPlatformTestFramework.RunAsync(args, SelfRegisteredExtensions.AddSelfRegisteredExtensions)
    : await Xunit.Runner.InProc.SystemConsole.ConsoleRunner.Run(args);
