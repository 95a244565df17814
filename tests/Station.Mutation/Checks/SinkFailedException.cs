namespace Station.Mutation.Checks;

/// <summary>Thrown by a byte sink on purpose.</summary>
public sealed class SinkFailedException : Exception;
