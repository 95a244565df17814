namespace Station.EndToEnd.Tests;
public sealed class Placeholder { [Xunit.Fact] public void X() => Xunit.Assert.Equal(4, 2 + 2); }
