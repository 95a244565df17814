using System.Reflection;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Tests.Jobs.Support;

/// <summary>The process ended here, as far as the code under test can tell: from this call on nothing is stored any more.</summary>
public sealed class StoreDiedException : Exception;

/// <summary>A store that dies at its k-th call, before or after that call took effect, and answers nothing from then on.</summary>
public class DyingStore : DispatchProxy
{
    private IStationStore _inner = null!;
    private int _dieAt;
    private bool _afterwards;
    private bool _dead;

    /// <summary>Calls so far.</summary>
    public int Calls { get; private set; }

    /// <param name="dieAt">From 1; 0 never dies and only counts.</param>
    /// <param name="afterwards">The call takes effect and its answer is lost.</param>
    internal static IStationStore Over(IStationStore inner, int dieAt, bool afterwards)
    {
        IStationStore proxy = Create<IStationStore, DyingStore>();
        var dying = (DyingStore)(object)proxy;
        dying._inner = inner;
        dying._dieAt = dieAt;
        dying._afterwards = afterwards;
        return proxy;
    }

    protected override object? Invoke(MethodInfo? targetMethod, object?[]? args)
    {
        Calls++;
        bool now = Calls == _dieAt;
        if (_dead || (now && !_afterwards))
        {
            _dead = true;
            throw new StoreDiedException();
        }

        object? result = targetMethod!.Invoke(_inner, BindingFlags.DoNotWrapExceptions, binder: null, args, culture: null);
        if (now)
        {
            (result as Task)?.GetAwaiter().GetResult();
            _dead = true;
            throw new StoreDiedException();
        }

        return result;
    }
}

/// <summary>A store that behaves, but for one method.</summary>
public class BrokenStore : DispatchProxy
{
    private IStationStore _inner = null!;
    private string _method = "";
    private Func<object?[], Exception?> _fault = _ => null;

    internal static IStationStore Over(IStationStore inner, string method, Func<object?[], Exception?> fault)
    {
        IStationStore proxy = Create<IStationStore, BrokenStore>();
        var broken = (BrokenStore)(object)proxy;
        broken._inner = inner;
        broken._method = method;
        broken._fault = fault;
        return proxy;
    }

    protected override object? Invoke(MethodInfo? targetMethod, object?[]? args)
    {
        if (targetMethod!.Name == _method && _fault(args ?? []) is { } error)
        {
            throw error;
        }

        return targetMethod.Invoke(_inner, BindingFlags.DoNotWrapExceptions, binder: null, args, culture: null);
    }
}
