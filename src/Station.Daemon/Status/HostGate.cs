using Microsoft.AspNetCore.Http;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status;

/// <summary>Turns away requests for another host's name (400), and decisions sent by a foreign page (403), before anything looks at them.</summary>
internal sealed class HostGate(RequestDelegate next, HostRule rule)
{
    public async Task InvokeAsync(HttpContext context)
    {
        HttpRequest request = context.Request;
        if (!request.Host.HasValue || !rule.Allows(request.Host.Host))
        {
            await Problems.Of(StatusCodes.Status400BadRequest, PageText.WrongHost).ExecuteAsync(context);
            return;
        }

        string? origin = request.Headers.Origin;
        bool reads = HttpMethods.IsGet(request.Method) || HttpMethods.IsHead(request.Method);
        if (!reads && origin is not null && !HostRule.IsOwnOrigin(origin, request.Host.Value!))
        {
            await Problems.Of(StatusCodes.Status403Forbidden, PageText.ForeignPage).ExecuteAsync(context);
            return;
        }

        await next(context);
    }
}
