using Station.Audio.Reading;

namespace Station.Evaluation.Disc;

/// <summary>Everything about one disc, one turntable and one chain before a fault is planted. Levels in dBFS are those behind the converter.</summary>
public sealed class DiscRecipe
{
    /// <summary>Rate of the capture, Hz.</summary>
    public int SampleRateHz { get; set; } = 44100;

    /// <summary>Words of the capture.</summary>
    public WordFormat Words { get; set; } = WordFormat.Int24;

    /// <summary>Bits of the converter; may be fewer than the word has.</summary>
    public int ConverterBits { get; set; } = 24;

    /// <summary>Triangular dither of one step before the converter.</summary>
    public bool Dither { get; set; }

    /// <summary>What the sheet says about the speed, rev/min: 100/3, 45, 7200/92 or 6000/77.</summary>
    public double NominalRpm { get; set; } = 100.0 / 3;

    /// <summary>How much faster the turntable runs, %. A good one stays within ±0.3 (IEC 60098 allows a disc ±0.5; excerpt).</summary>
    public double SpeedErrorPercent { get; set; }

    /// <summary>A mono disc, played with a stereo pickup.</summary>
    public bool Mono { get; set; }

    /// <summary>Whether a record sheet goes with the capture.</summary>
    public bool HasSheet { get; set; } = true;

    /// <summary>What is cut.</summary>
    public List<TrackPlan> Tracks { get; } = [];

    /// <summary>Recorder runs before the stylus comes down, seconds.</summary>
    public double PreRollSeconds { get; set; } = 2;

    /// <summary>Silent groove before the first track, seconds.</summary>
    public double LeadInSeconds { get; set; } = 3;

    /// <summary>Lead-out spiral, seconds.</summary>
    public double SpiralSeconds { get; set; } = 2.5;

    /// <summary>Turns in the closed groove before the stylus is lifted.</summary>
    public int RunOutTurns { get; set; } = 8;

    /// <summary>Recorder runs on after the lift, seconds.</summary>
    public double PostRollSeconds { get; set; } = 2;

    /// <summary>Programme's peak, dBFS.</summary>
    public double PeakDbfs { get; set; } = -6;

    /// <summary>Groove noise, A-weighted, dBFS (full-scale sine = 0).</summary>
    public double SurfaceDba { get; set; } = -64;

    /// <summary>How the groove noise is made.</summary>
    public NoiseModel Noise { get; set; }

    /// <summary>Clearly audible ticks per minute.</summary>
    public double TicksPerMinute { get; set; } = 5;

    /// <summary>Peak of the smallest of those ticks, dBFS.</summary>
    public double TickFloorDbfs { get; set; } = -42;

    /// <summary>Peak of the largest, dBFS.</summary>
    public double TickCeilingDbfs { get; set; } = -20;

    /// <summary>Fine dust per second, each 6 to 12 dB above the groove noise.</summary>
    public double DustPerSecond { get; set; } = 2;

    /// <summary>Turntable rumble 15 to 100 Hz, RMS, dBFS (full-scale sine = 0).</summary>
    public double RumbleDbfs { get; set; } = -62;

    /// <summary>Resonance of arm and cartridge, Hz.</summary>
    public double ArmHz { get; set; } = 10;

    /// <summary>What it adds, RMS, dBFS (full-scale sine = 0).</summary>
    public double ArmDbfs { get; set; } = -52;

    /// <summary>Mains frequency, Hz.</summary>
    public double MainsHz { get; set; } = 50;

    /// <summary>Harmless remaining hum, dBFS peak of its fundamental.</summary>
    public double ResidualHumDbfs { get; set; } = -86;

    /// <summary>Noise of phono stage and converter input, RMS, dBFS.</summary>
    public double ElectronicsDbfs { get; set; } = -84;

    /// <summary>Off-centre pressing: peak speed deviation, %. 0.2 mm gives 0.14 to 0.33 % (disc-mechanics, computed).</summary>
    public double EccentricityPercent { get; set; } = 0.1;

    /// <summary>Channel separation, dB.</summary>
    public double SeparationDb { get; set; } = 25;

    /// <summary>Left over right, dB.</summary>
    public double BalanceDb { get; set; }

    /// <summary>Where the cut's treble ends, Hz.</summary>
    public double BandLimitHz { get; set; } = 16000;

    /// <summary>Below this the cut is mono, Hz.</summary>
    public double BassMonoHz { get; set; } = 150;

    /// <summary>Error of the replay curve in the treble, dB.</summary>
    public double TrebleErrorDb { get; set; }

    /// <summary>Error of the replay curve in the bass, dB.</summary>
    public double BassErrorDb { get; set; }

    /// <summary>Coupling capacitors, Hz.</summary>
    public double CouplingHz { get; set; } = 4;

    /// <summary>The replay-only amendment of 7950 µs (20 Hz) is built in.</summary>
    public bool Amendment { get; set; }

    /// <summary>Peak of the stylus landing, dBFS.</summary>
    public double DropDbfs { get; set; } = -14;

    /// <summary>Peak of the lift, dBFS.</summary>
    public double LiftDbfs { get; set; } = -26;

    /// <summary>Peak of the knock in each turn of the closed groove, dBFS.</summary>
    public double RunOutThumpDbfs { get; set; } = -32;

    /// <summary>Rotation, rev/min.</summary>
    public double Rpm => NominalRpm * (1 + (SpeedErrorPercent / 100));

    /// <summary>Length of a turn, frames.</summary>
    public double TurnFrames => 60 * SampleRateHz / Rpm;

    /// <summary>Factor from dBFS to groove units, in which the programme's peak is 1.</summary>
    public double Units(double dbfs) => Signal.Decibel.ToLinear(dbfs - PeakDbfs);
}
