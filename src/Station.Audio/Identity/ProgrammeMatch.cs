namespace Station.Audio.Identity;

/// <summary>That two captures hold the same programme, and where.</summary>
/// <param name="StartSeconds">Where it begins in the first capture.</param>
/// <param name="EndSeconds">Where it ends there.</param>
/// <param name="OtherStartSeconds">Where it begins in the second.</param>
/// <param name="MatchedSeconds">Music that was found in both.</param>
/// <param name="Share">Of the music of the capture that has less, 0.5 to 1.</param>
/// <param name="Speed">How much faster the first plays it, 1 for the same speed; 0.97 to 1.03.</param>
public readonly record struct ProgrammeMatch(
    double StartSeconds, double EndSeconds, double OtherStartSeconds, double MatchedSeconds, double Share, double Speed);
