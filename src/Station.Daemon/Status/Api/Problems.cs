using System.Collections.Immutable;
using Microsoft.AspNetCore.Http;

namespace Station.Daemon.Status.Api;

/// <summary>Errors as RFC 9457 problem documents.</summary>
internal static class Problems
{
    /// <param name="detail">One line for a person.</param>
    public static IResult Of(int status, string detail) => Results.Problem(detail: detail, statusCode: status);

    /// <param name="detail">One line for a person.</param>
    /// <param name="errors">What is wrong in the body, by place; the member <c>errors</c> of the document.</param>
    public static IResult Of(int status, string detail, ImmutableArray<BodyError> errors) =>
        Results.Problem(detail: detail, statusCode: status, extensions: [new("errors", errors)]);

    /// <summary>Gives each problem the request's id, under which the log has the rest; never a trace.</summary>
    public static void Complete(ProblemDetailsContext context)
    {
        context.ProblemDetails.Extensions.Remove("traceId");
        context.ProblemDetails.Extensions["requestId"] = context.HttpContext.TraceIdentifier;
    }
}
