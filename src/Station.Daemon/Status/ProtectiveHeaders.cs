using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Primitives;

namespace Station.Daemon.Status;

/// <summary>Headers every answer carries: nothing but the station's own styles and pictures loads, nothing is framed, sniffed or stored.</summary>
internal sealed class ProtectiveHeaders(RequestDelegate next)
{
    private const string PagePolicy = "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

    /// <summary>The side's picture brings its own style element, and nothing else.</summary>
    public const string PicturePolicy = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'";

    public Task InvokeAsync(HttpContext context)
    {
        context.Response.OnStarting(static state =>
        {
            IHeaderDictionary headers = ((HttpContext)state).Response.Headers;
            headers.XContentTypeOptions = "nosniff";
            headers["Referrer-Policy"] = "no-referrer";
            headers["Cross-Origin-Resource-Policy"] = "same-origin";
            headers.ContentSecurityPolicy = StringValues.IsNullOrEmpty(headers.ContentSecurityPolicy) ? PagePolicy : headers.ContentSecurityPolicy;
            headers.CacheControl = StringValues.IsNullOrEmpty(headers.CacheControl) ? "no-store" : headers.CacheControl;
            return Task.CompletedTask;
        }, context);
        return next(context);
    }
}
