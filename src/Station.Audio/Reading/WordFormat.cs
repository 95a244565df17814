namespace Station.Audio.Reading;

/// <summary>How one sample is stored in the file's own words. Little-endian; integers are signed two's complement.</summary>
/// <remarks>Valid bits fewer than the word's are its upper ones. A FLAC is decoded to the word of its depth, the one its own MD5 is made from (RFC 9639 §8.2).</remarks>
public enum WordFormat
{
    /// <summary>Two bytes.</summary>
    Int16,

    /// <summary>Three bytes.</summary>
    Int24,

    /// <summary>24 valid bits in the upper three of four bytes.</summary>
    Int24In32,

    /// <summary>Four bytes.</summary>
    Int32,

    /// <summary>IEEE 754 binary32, full scale ±1.0.</summary>
    Float32,

    /// <summary>IEEE 754 binary64, full scale ±1.0.</summary>
    Float64,
}
