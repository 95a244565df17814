using System.Net;
using Station.Daemon.Alerts;
using Xunit;

namespace Station.Daemon.Tests.Alerts;

/// <summary>Special ranges: RFC 1122, RFC 3927, RFC 4291, RFC 5771 (from memory); addresses for documentation: RFC 5737, RFC 3849.</summary>
public sealed class AddressRuleTests
{
    [Theory]
    [InlineData("192.0.2.7")]
    [InlineData("192.168.1.20")]
    [InlineData("10.0.0.3")]
    [InlineData("2001:db8::1")]
    [InlineData("fd00::1")]
    public void A_name_may_lead_to_the_house_or_the_world(string address) => Assert.True(AddressRule.Allows("receiver.example", IPAddress.Parse(address)));

    [Theory]
    [InlineData("127.0.0.1")]
    [InlineData("127.8.9.10")]
    [InlineData("::1")]
    [InlineData("0.0.0.0")]
    [InlineData("::")]
    [InlineData("169.254.169.254")]
    [InlineData("fe80::1")]
    [InlineData("224.0.0.1")]
    [InlineData("255.255.255.255")]
    [InlineData("ff02::1")]
    [InlineData("::ffff:127.0.0.1")]
    [InlineData("::ffff:169.254.169.254")]
    public void A_name_may_not_lead_to_this_machine_or_the_link(string address) => Assert.False(AddressRule.Allows("receiver.example", IPAddress.Parse(address)));

    [Theory]
    [InlineData("127.0.0.1", "127.0.0.1")]
    [InlineData("[::1]", "::1")]
    [InlineData("localhost", "::1")]
    [InlineData("169.254.1.1", "169.254.1.1")]
    public void An_address_written_in_the_configuration_is_meant(string host, string address) => Assert.True(AddressRule.Allows(host, IPAddress.Parse(address)));
}
