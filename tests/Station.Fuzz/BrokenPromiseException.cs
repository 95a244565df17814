namespace Station.Fuzz;

/// <summary>A reader did what it promises not to do; the fuzzer keeps the input.</summary>
public sealed class BrokenPromiseException(string message) : Exception(message);
