using System.Runtime.Versioning;

[assembly: SupportedOSPlatform("linux")]
