using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>The whole process's memory is weighed: nothing else may run meanwhile.</summary>
[CollectionDefinition(Name, DisableParallelization = true)]
public sealed class AloneWithTheHeap
{
    /// <summary>The collection's name.</summary>
    public const string Name = "alone with the heap";
}
