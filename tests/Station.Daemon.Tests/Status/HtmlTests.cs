using Station.Daemon.Status.Pages;
using Xunit;

namespace Station.Daemon.Tests.Status;

public sealed class HtmlTests
{
    [Fact]
    public void A_value_is_escaped_for_text_and_for_a_quoted_attribute()
    {
        string value = "<b a=\"1\" c='2'>&";

        Assert.Equal("<p title=\"&lt;b a=&quot;1&quot; c=&#x27;2&#x27;&gt;&amp;\">x</p>", Html.Of($"<p title=\"{value}\">x</p>").ToString());
    }

    [Fact]
    public void Markup_made_before_is_not_escaped_again() => Assert.Equal("<p><b>&lt;</b></p>", Html.Of($"<p>{Html.Of($"<b>{"<"}</b>")}</p>").ToString());

    [Fact]
    public void Letters_of_other_scripts_stay_readable() => Assert.Equal("潮汐表 é", Html.Of($"{"潮汐表 é"}").ToString());

    [Fact]
    public void What_would_turn_the_line_is_shown_as_a_code() => Assert.Equal("\\u202E", Html.Of($"{"\u202E"}").ToString());
}
