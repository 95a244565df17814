namespace Station.Daemon.Stages;

/// <summary>How new bags are written. Section <c>Bags</c>.</summary>
internal sealed class BagOptions
{
    public const string Section = "Bags";

    /// <summary>SHA-512 manifests beside the SHA-256 ones, in new bags: default false. Bags that are there are never changed.</summary>
    public bool Sha512 { get; set; }
}
