using Station.Archive.Originals;
using Station.Audio.Encoding;
using Station.Daemon.Jobs;

namespace Station.Daemon.Commands;

/// <summary><c>stationd restore BAG -o FILE</c>: gives back the dropped file, bit for bit.</summary>
internal static class RestoreCommand
{
    public static int Run(string bag, string output, CancellationToken cancellationToken)
    {
        string path = Path.GetFullPath(output);
        OriginalRestore.RestoreTo(Path.GetFullPath(bag), path, new MasterDecoder(CodecTools.FromPath()).DecodeWords, cancellationToken);
        RestoreRecipe recipe = OriginalRestore.ReadRecipe(Path.GetFullPath(bag));
        Console.WriteLine($"{recipe.Sha256}  {path}");
        return 0;
    }
}
