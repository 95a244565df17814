namespace Station.Mutation.Campaign;

/// <summary>What a campaign does.</summary>
/// <param name="Count">Files.</param>
/// <param name="Seed">Another seed is another campaign.</param>
/// <param name="Workers">Processes side by side.</param>
/// <param name="OpinionEvery">One in so many of the files taken without a repair is decoded by ffmpeg too; 0 for none.</param>
/// <param name="Findings">Folder for files that broke something; made when needed.</param>
internal sealed record CampaignPlan(long Count, long Seed, int Workers, int OpinionEvery, string Findings);
