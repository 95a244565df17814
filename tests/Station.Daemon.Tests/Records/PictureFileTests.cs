using Station.Daemon.Records;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Records;

public sealed class PictureFileTests
{
    // A grey picture of 36 by 20 pixels, written by a general-purpose encoder (ffmpeg 5.1) as JPEG and as PNG.
    public static readonly byte[] Jpeg = Convert.FromBase64String(
        "/9j/4AAQSkZJRgABAgAAAQABAAD//gAQTGF2YzU5LjM3LjEwMAD/2wBDAAgEBAQEBAUFBQUFBQYGBgYGBgYGBgYGBgYHBwcICAgHBwcGBgcHCAgICAkJCQgICAgJCQoKCgwMCwsODg4RERT/"
        + "xABKAAEAAAAAAAAAAAAAAAAAAAAAAQEAAAAAAAAAAAAAAAAAAAAAEAEAAAAAAAAAAAAAAAAAAAAAEQEAAAAAAAAAAAAAAAAAAAAA/8AAEQgAFAAkAwEiAAIRAAMRAP/aAAwDAQACEQMRAD8AAAAAAAAAAAAA/9k=");

    public static readonly byte[] Png = Convert.FromBase64String(
        "iVBORw0KGgoAAAANSUhEUgAAACQAAAAUCAIAAABqGAhiAAAACXBIWXMAAAABAAAAAQBPJcTWAAAAIElEQVR4nGNooCNgGLVs1LJRy0YtG7Vs1LJRy0YtgwAAhf04PfKZkhoAAAAASUVORK5CYII=");

    [Fact]
    public void Kind_and_size_are_told_by_the_content()
    {
        Assert.Equal(new PictureFile("image/jpeg", "jpg", 36, 20), PictureFile.Read(Jpeg).Picture);
        Assert.Equal(new PictureFile("image/png", "png", 36, 20), PictureFile.Read(Png).Picture);
    }

    [Fact]
    public void A_picture_of_the_documents_written_by_a_browser_is_read()
    {
        byte[] page = File.ReadAllBytes(Repository.File("docs/pictures/page.png"));
        PictureFile picture = PictureFile.Read(page).Picture!;
        Assert.Equal("image/png", picture.MediaType);

        // PNG third edition §11.2.1: width and height are the first two words of IHDR.
        Assert.Equal((page[18] << 8) | page[19], picture.WidthPixels);
        Assert.Equal((page[22] << 8) | page[23], picture.HeightPixels);
    }

    // ITU-T T.81 table B.1: SOF0 to SOF15 head a frame, but for C4 (tables), C8 (reserved) and CC (conditioning).
    [Theory]
    [InlineData(0xC0, true)]
    [InlineData(0xC1, true)]
    [InlineData(0xC2, true)]
    [InlineData(0xC3, true)]
    [InlineData(0xC5, true)]
    [InlineData(0xC9, true)]
    [InlineData(0xCF, true)]
    [InlineData(0xC4, false)]
    [InlineData(0xC8, false)]
    [InlineData(0xCC, false)]
    public void Every_frame_header_gives_the_size_and_nothing_else_does(int marker, bool heads)
    {
        byte[] other = [.. Jpeg];
        other[other.AsSpan().IndexOf((ReadOnlySpan<byte>)[0xFF, 0xC0]) + 1] = (byte)marker;
        Assert.Equal(heads, PictureFile.Read(other).Picture is not null);
    }

    [Fact]
    public void A_picture_cut_anywhere_is_refused()
    {
        foreach (byte[] whole in new[] { Jpeg, Png })
        {
            for (int length = 0; length < whole.Length; length++)
            {
                (PictureFile? picture, string? fault) = PictureFile.Read(whole.AsSpan(0, length));
                Assert.True(picture is null && fault is { Length: > 0 }, $"{length} bytes");
            }
        }
    }

    [Fact]
    public void Bytes_after_the_end_do_no_harm()
    {
        Assert.NotNull(PictureFile.Read([.. Jpeg, .. new byte[100]]).Picture);
        Assert.NotNull(PictureFile.Read([.. Png, .. new byte[100]]).Picture);
    }

    [Theory]
    [InlineData("", "empty")]
    [InlineData("47494638396101000100", "offset 0, found 47494638")]              // another kind of picture
    [InlineData("FFD8FFD9", "0xD9")]
    [InlineData("FFD8FFE0000102", "says it has 1 bytes")]
    [InlineData("FFD8FFE0FFFF00", "cut off")]
    [InlineData("FFD8FFE0000400002A", "expected a JPEG marker at offset 8")]
    [InlineData("FFD8FFC0000B0800000024011100FFDA0002FFD9", "36 × 0 pixels")]
    [InlineData("FFD8FFC0000408000000", "too short")]
    [InlineData("FFD8FFDA0002FFD9", "no frame header")]
    [InlineData("89504E470D0A1A0A0000000049454E44AE426082", "header")]
    [InlineData("89504E470D0A1A0A0000000D49484452000000000000001408020000006A180862", "0 × 20 pixels")]
    [InlineData("89504E470D0A1A0A0000000D49484452FFFFFFFF0000001408020000006A180862", "4294967295 × 20 pixels")]
    [InlineData("89504E470D0A1A0A7FFFFFFF49484452000000240000001408020000006A180862", "cut off")]
    public void What_is_no_picture_is_told_with_the_place(string hex, string part)
    {
        (PictureFile? picture, string? fault) = PictureFile.Read(Convert.FromHexString(hex));
        Assert.Null(picture);
        Assert.Contains(part, fault, StringComparison.Ordinal);
    }

    [Fact]
    public void Ten_thousand_mutated_pictures_are_read_or_refused_and_nothing_else()
    {
        var random = new Random(20310314);
        int read = 0;
        for (int n = 0; n < 10_000; n++)
        {
            byte[] bytes = [.. n % 2 == 0 ? Jpeg : Png];
            for (int k = random.Next(1, 6); k > 0; k--)
            {
                bytes[random.Next(bytes.Length)] = (byte)random.Next(256);
            }

            (PictureFile? picture, string? fault) = PictureFile.Read(bytes);
            Assert.True(picture is null == fault is not null);
            Assert.True(picture is null or { WidthPixels: > 0, HeightPixels: > 0 });
            read += picture is null ? 0 : 1;
        }

        Assert.InRange(read, 1, 9_999);
    }
}
