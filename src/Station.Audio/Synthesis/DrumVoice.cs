namespace Station.Audio.Synthesis;

/// <summary>One stroke on a drum or cymbal: filtered noise and, for drums, a tone that falls in pitch.</summary>
internal sealed class DrumVoice
{
    private SeededRandom _noise;
    private Instrument _instrument;
    private float _noiseLevel, _noiseDecay, _toneLevel, _toneDecay;
    private float _rise, _riseStep;
    private double _turn, _turnsPerFrame, _lowestTurnsPerFrame, _fall;
    private float _low, _band, _tune, _damping;

    public bool IsSounding { get; private set; }

    public int Age { get; private set; }

    public void Start(Instrument instrument, double strength, int sampleRateHz, ref SeededRandom random)
    {
        IsSounding = true;
        Age = 0;
        _instrument = instrument;
        _noise = new SeededRandom((int)random.Next(), RandomStream.Performance);
        (double noise, double noiseSeconds, double tone, double toneSeconds, double fromHz, double toHz, double noiseHz, double damping, double riseSeconds) = instrument switch
        {
            Instrument.Kick => (0.10, 0.012, 0.85, 0.13, 150, 49, 2500.0, 1.2, 0.001),
            Instrument.Snare => (0.55, 0.10, 0.35, 0.07, 235, 182, 2100, 1.1, 0.0006),
            Instrument.Hat => (0.24, 0.032, 0, 0.01, 0, 0, 8200, 0.9, 0.0004),
            _ => (0.16, 0.11, 0, 0.01, 0, 0, 3400, 1.3, 0.025),
        };
        double amplitude = strength * Math.Sqrt(strength);
        _noiseLevel = (float)(noise * amplitude);
        _noiseDecay = (float)Math.Exp(-1 / (noiseSeconds * random.Between(0.85, 1.2) * sampleRateHz));
        _toneLevel = (float)(tone * amplitude);
        _toneDecay = (float)Math.Exp(-1 / (toneSeconds * sampleRateHz));
        _rise = 0;
        _riseStep = (float)(1 / (riseSeconds * sampleRateHz));
        _turn = 0;
        _turnsPerFrame = (fromHz - toHz) / sampleRateHz;
        _lowestTurnsPerFrame = toHz / sampleRateHz;
        _fall = Math.Exp(-1 / (0.028 * sampleRateHz));
        _low = _band = 0;
        _tune = (float)(2 * Math.Sin(Math.PI * Math.Min(noiseHz, 0.19 * sampleRateHz) / sampleRateHz));
        _damping = (float)damping;
    }

    public void Render(Span<float> output)
    {
        for (int i = 0; i < output.Length; i++)
        {
            // State-variable filter: band-pass for drums, high-pass for cymbals.
            float x = _noise.Bipolar();
            _low += _tune * _band;
            float high = x - _low - (_damping * _band);
            _band += _tune * high;
            float value = _noiseLevel * (_instrument == Instrument.Hat ? high : _band);
            _noiseLevel *= _noiseDecay;
            if (_toneLevel > 1e-6f)
            {
                value += _toneLevel * MathF.Sin((float)(2 * Math.PI * _turn));
                _turn += _lowestTurnsPerFrame + _turnsPerFrame;
                _turn -= Math.Floor(_turn);
                _turnsPerFrame *= _fall;
                _toneLevel *= _toneDecay;
            }

            if (_rise < 1)
            {
                value *= _rise;
                _rise += _riseStep;
            }

            output[i] = value;
        }

        Age += output.Length;
        IsSounding = _noiseLevel > 2e-6f || _toneLevel > 2e-6f;
    }
}
