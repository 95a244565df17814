namespace Station.Daemon.Jobs;

/// <summary>The way of a capture, in order. The names stand in reports and in the database.</summary>
internal static class StageNames
{
    public const string Intake = "intake";
    public const string Inspect = "inspect";
    public const string Divide = "divide";
    public const string Archive = "archive";
    public const string Encode = "encode";
    public const string Publish = "publish";

    public static IReadOnlyList<string> InOrder { get; } = [Intake, Inspect, Divide, Archive, Encode, Publish];
}
