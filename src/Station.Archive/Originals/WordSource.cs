namespace Station.Archive.Originals;

/// <summary>Decodes a lossless master into the dropped file's own sample words, interleaved, little-endian, without header.</summary>
/// <param name="masterPath">The master inside the bag; read only.</param>
/// <param name="output">Takes the words; refuses more than the recipe allows.</param>
public delegate void WordSource(string masterPath, Stream output);
