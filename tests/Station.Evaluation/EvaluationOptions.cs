using System.Globalization;
using Station.Evaluation.Disc;
using Station.Evaluation.Music;

namespace Station.Evaluation;

/// <summary>What a run evaluates.</summary>
public sealed record EvaluationOptions
{
    /// <summary>Sides per class at its committed strengths.</summary>
    public int Sides { get; init; } = 60;

    /// <summary>Clean sides; null for as many as keep the proportion of 400 to 60.</summary>
    public int? Clean { get; init; }

    /// <summary>Shortest side, seconds. Shorter than the usual 180 for a quick look only: some faults need room.</summary>
    public int Seconds { get; init; } = 180;

    /// <summary>Classes by code, and <c>clean</c>; empty for all.</summary>
    public IReadOnlyList<string> Classes { get; init; } = [];

    /// <summary>Seeds; empty for the set's own.</summary>
    public IReadOnlyList<ulong> Seeds { get; init; } = [];

    /// <summary>Which music and which noise models.</summary>
    public MusicSet Set { get; init; } = MusicSet.Tuning;

    /// <summary>Noise models of the tuning set in place of its own; empty for A and B.</summary>
    public IReadOnlyList<NoiseModel> Noise { get; init; } = [];

    /// <summary>Where the JSON goes; null for nowhere.</summary>
    public string? Out { get; init; }

    /// <summary>Folder of music packages and scans.</summary>
    public string Cache { get; init; } = Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.UserProfile), ".cache", "station-evaluation");

    /// <summary>Sides made at a time.</summary>
    public int Jobs { get; init; } = Environment.ProcessorCount;

    /// <summary>The division of sides into tracks in place of the findings.</summary>
    public bool Division { get; init; }

    /// <summary>Made-up music in place of packages: only to see that everything runs.</summary>
    public bool StandIn { get; init; }

    /// <summary>One side, by its name, to be written as a WAV for listening; tuning set only.</summary>
    public string? Write { get; init; }

    /// <summary>Folder in which the sides of the tuning set are kept for the next run; null to make each anew.</summary>
    public string? Keep { get; init; }

    /// <summary>Prints the tracks with what the scan found, and nothing else.</summary>
    public bool ListMusic { get; init; }

    /// <summary>The noise models that discs are drawn from.</summary>
    /// <remarks>Stand-in runs have no recording of a groove: only the synthetic model of the set is left.</remarks>
    public IReadOnlyList<NoiseModel> NoiseModels
    {
        get
        {
            IReadOnlyList<NoiseModel> models = Noise.Count > 0 ? Noise : Set == MusicSet.Tuning ? [NoiseModel.A, NoiseModel.B] : [NoiseModel.C, NoiseModel.D];
            return StandIn ? [models[0]] : models;
        }
    }

    /// <summary>The seeds that sides are drawn with.</summary>
    public IReadOnlyList<ulong> SideSeeds => Seeds.Count > 0 ? Seeds : Set == MusicSet.Tuning ? [11, 12] : [101, 102, 103];

    /// <summary>Reads the command line.</summary>
    /// <exception cref="ArgumentException">An option is unknown or its value can't be read.</exception>
    public static EvaluationOptions Parse(IReadOnlyList<string> arguments)
    {
        ArgumentNullException.ThrowIfNull(arguments);
        var options = new EvaluationOptions();
        for (int i = 0; i < arguments.Count; i++)
        {
            string name = arguments[i];
            if (string.Equals(name, "--stand-in", StringComparison.Ordinal))
            {
                options = options with { StandIn = true };
                continue;
            }

            if (string.Equals(name, "--division", StringComparison.Ordinal))
            {
                options = options with { Division = true };
                continue;
            }

            if (string.Equals(name, "--list-music", StringComparison.Ordinal))
            {
                options = options with { ListMusic = true };
                continue;
            }

            string value = ++i < arguments.Count ? arguments[i] : throw new ArgumentException($"{name} needs a value.");
            options = name switch
            {
                "--sides" => options with { Sides = Number(name, value) },
                "--clean" => options with { Clean = Number(name, value) },
                "--seconds" => options with { Seconds = Math.Max(90, Number(name, value)) },
                "--classes" => options with { Classes = value.Split([',', ' '], StringSplitOptions.RemoveEmptyEntries) },
                "--seeds" => options with { Seeds = [.. value.Split([',', ' '], StringSplitOptions.RemoveEmptyEntries).Select(s => (ulong)Number(name, s))] },
                "--set" => options with { Set = Enum.TryParse(value, true, out MusicSet set) ? set : throw new ArgumentException($"--set is tuning or counting, not {value}.") },
                "--noise" => options with { Noise = [.. value.Split([',', ' '], StringSplitOptions.RemoveEmptyEntries).Select(Model)] },
                "--out" => options with { Out = value },
                "--cache" => options with { Cache = value },
                "--jobs" => options with { Jobs = Math.Max(1, Number(name, value)) },
                "--keep" => options with { Keep = value },
                "--write" => options with { Write = value },
                _ => throw new ArgumentException($"Unknown option {name}."),
            };
        }

        return options switch
        {
            { Keep: not null, Set: MusicSet.Counting } => throw new ArgumentException("Sides of the counting set are not kept: nobody is to look at them."),
            { Write: not null, Set: MusicSet.Counting } => throw new ArgumentException("Sides of the counting set are not written: nobody is to look at them."),
            { Noise.Count: > 0, Set: MusicSet.Counting } => throw new ArgumentException("The counting set has its own noise models."),
            _ => options,
        };
    }

    private static NoiseModel Model(string name) => Enum.TryParse(name, true, out NoiseModel model) && model is NoiseModel.A or NoiseModel.B or NoiseModel.E
        ? model
        : throw new ArgumentException($"--noise takes A, B and E, the models of the tuning set, not {name}.");

    private static int Number(string name, string value) => int.TryParse(value, NumberStyles.None, CultureInfo.InvariantCulture, out int number)
        ? number
        : throw new ArgumentException($"{name} takes whole numbers, not {value}.");
}
