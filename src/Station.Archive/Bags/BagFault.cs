namespace Station.Archive.Bags;

/// <summary>One reason why a bag is not valid.</summary>
/// <param name="File">File concerned, relative to the bag, parts separated by '/'.</param>
/// <param name="Kind">What is wrong.</param>
/// <param name="Message">One line: the file, what was expected, what was found.</param>
public sealed record BagFault(string File, BagFaultKind Kind, string Message);
