using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Copies;

public sealed class CopiesMarkerTests : IDisposable
{
    private static readonly DateTimeOffset Now = new(2031, 3, 14, 9, 26, 53, TimeSpan.Zero);
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_prepared_folder_keeps_its_marker()
    {
        Assert.Null(CopiesMarker.TryRead(_folder.Path));
        CopiesMarker marker = CopiesMarker.Prepare(_folder.Path, "attic", Now);
        Assert.Equal((1, "attic", Now), (marker.Version, marker.Name, marker.PreparedAt));
        Assert.Equal(marker, CopiesMarker.TryRead(_folder.Path));
        Assert.Equal(marker, CopiesMarker.Prepare(_folder.Path, "attic", Now.AddDays(3)));
    }

    [Fact]
    public void A_folder_of_another_name_is_refused()
    {
        CopiesMarker.Prepare(_folder.Path, "attic", Now);
        InvalidDataException error = Assert.Throws<InvalidDataException>(() => CopiesMarker.Prepare(_folder.Path, "cellar", Now));
        Assert.Contains("'attic'", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_folder_that_is_not_there_is_not_made()
    {
        Assert.Null(CopiesMarker.TryRead(_folder["gone"]));
        Assert.Throws<PosixException>(() => CopiesMarker.Prepare(_folder["gone"], "attic", Now));
        Assert.False(Directory.Exists(_folder["gone"]));
    }

    [Theory]
    [InlineData("")]
    [InlineData("null")]
    [InlineData("attic")]
    [InlineData("""{"version":2,"name":"attic","id":"01956c1d-7d6a-7000-8000-000000000001","preparedAt":"2031-03-14T09:26:53+00:00"}""")]
    [InlineData("""{"version":1,"name":"","id":"01956c1d-7d6a-7000-8000-000000000001","preparedAt":"2031-03-14T09:26:53+00:00"}""")]
    [InlineData("""{"version":1,"name":"attic","id":"00000000-0000-0000-0000-000000000000","preparedAt":"2031-03-14T09:26:53+00:00"}""")]
    [InlineData("""{"version":1,"name":"attic"}""")]
    [InlineData("""{"version":1,"name":"attic","id":"01956c1d-7d6a-7000-8000-000000000001","preparedAt":"2031-03-14T09:26:53+00:00","more":1}""")]
    public void Anything_else_is_no_marker(string content)
    {
        _folder.Write(CopiesMarker.FileName, content);
        Assert.Throws<InvalidDataException>(() => CopiesMarker.TryRead(_folder.Path));
    }

    [Fact]
    public void A_huge_file_is_not_read()
    {
        using (FileStream file = File.Create(_folder[CopiesMarker.FileName]))
        {
            file.SetLength(1L << 40);
        }

        InvalidDataException error = Assert.Throws<InvalidDataException>(() => CopiesMarker.TryRead(_folder.Path));
        Assert.Contains("1099511627776", error.Message, StringComparison.Ordinal);
    }
}
