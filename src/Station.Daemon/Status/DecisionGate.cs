using System.Net.Sockets;
using Microsoft.AspNetCore.Connections.Features;
using Microsoft.AspNetCore.Http;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status;

/// <summary>Who may decide about a take: whoever can open the control socket, and over the network whoever has the token.</summary>
internal sealed class DecisionGate(StatusToken token) : IEndpointFilter
{
    private const string Scheme = "Bearer ";

    public async ValueTask<object?> InvokeAsync(EndpointFilterInvocationContext context, EndpointFilterDelegate next) =>
        Refuse(context.HttpContext) ?? await next(context);

    private IResult? Refuse(HttpContext http)
    {
        if (http.Features.Get<IConnectionSocketFeature>()?.Socket.AddressFamily == AddressFamily.Unix)
        {
            return null;
        }

        if (!token.IsConfigured)
        {
            return Problems.Of(StatusCodes.Status403Forbidden, PageText.NoTokenConfigured);
        }

        string given = http.Request.Headers.Authorization.ToString();
        if (given.StartsWith(Scheme, StringComparison.OrdinalIgnoreCase) && token.Matches(given[Scheme.Length..].Trim()))
        {
            return null;
        }

        http.Response.Headers.WWWAuthenticate = "Bearer";
        return Problems.Of(StatusCodes.Status401Unauthorized, PageText.WrongToken);
    }
}
