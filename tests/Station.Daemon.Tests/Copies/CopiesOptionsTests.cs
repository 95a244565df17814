using System.ComponentModel.DataAnnotations;
using Station.Daemon.Copies;
using Xunit;

namespace Station.Daemon.Tests.Copies;

public sealed class CopiesOptionsTests
{
    [Fact]
    public void Without_a_word_about_it_every_place_must_be_proved_before_a_dropped_file_goes()
    {
        Assert.Equal(1, new CopiesOptions().ToPlaces().BeforeRelease);
        Assert.Equal(3, new CopiesOptions { Replicas = [Replica("attic"), Replica("cellar")] }.ToPlaces().BeforeRelease);
        Assert.Equal(2, new CopiesOptions { Replicas = [Replica("attic"), Replica("cellar")], BeforeRelease = 2 }.ToPlaces().BeforeRelease);
    }

    [Fact]
    public void What_could_never_work_is_refused()
    {
        Assert.Empty(Problems(new CopiesOptions { Replicas = [Replica("attic"), Replica("cellar")] }));
        Assert.Single(Problems(new CopiesOptions { Replicas = [Replica("attic"), Replica("ATTIC")] }));
        Assert.Single(Problems(new CopiesOptions { Replicas = [Replica("attic")], BeforeRelease = 3 }));
        Assert.Single(Problems(new CopiesOptions { AuditFromHour = 5, AuditUntilHour = 5 }));
        Assert.Single(Problems(Replica("archive")));
        Assert.Single(Problems(new ReplicaOptions { Name = "attic", Folder = "copies" }));
        Assert.Single(Problems(new ReplicaOptions { Name = "my attic", Folder = "/mnt/attic" }));
        Assert.Single(Problems(new CopiesOptions { AuditMegabytesPerSecond = 0 }));
    }

    private static ReplicaOptions Replica(string name) => new() { Name = name, Folder = "/mnt/" + name };

    private static List<ValidationResult> Problems(object options)
    {
        var problems = new List<ValidationResult>();
        Validator.TryValidateObject(options, new ValidationContext(options), problems, validateAllProperties: true);
        return problems;
    }
}
