using CsCheck;

namespace Station.Daemon.Tests.Records;

internal static class Words
{
    /// <summary>One of the given texts.</summary>
    public static Gen<string> Of(params string[] words) => Gen.Int[0, words.Length - 1].Select(i => words[i]);
}
