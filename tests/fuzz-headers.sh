#!/usr/bin/env bash
# Coverage-guided fuzzing of what reads files: afl-fuzz around an instrumented copy of the readers, one target after the other.
#   tests/fuzz-headers.sh [MINUTES] [TARGET …]
#     MINUTES   for each target (default 30)
#     TARGET    see "targets" below (default: capture)
# Needs the Debian package afl++ and the .NET tool SharpFuzz.CommandLine; both are installed when missing (the tool into the working folder).
# Keeps corpus and findings in ${STATION_FUZZ:-/tmp/station-fuzz}/TARGET; the next run goes on from there.
# Ends with "N findings"; exit code 1 when there are any. To see one again: dotnet WORK/bin/Station.Fuzz.dll TARGET < FINDING
set -euo pipefail
cd "$(dirname "$0")/.."

minutes=${1:-30}
shift || true
targets=("$@")
[ ${#targets[@]} -gt 0 ] || targets=(capture)
work=${STATION_FUZZ:-${TMPDIR:-/tmp}/station-fuzz}
tool_version=2.3.0

if ! command -v afl-fuzz > /dev/null; then
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends afl++ > /dev/null
fi
mkdir -p "$work"
[ -x "$work/tool/sharpfuzz" ] || dotnet tool install SharpFuzz.CommandLine --version "$tool_version" --tool-path "$work/tool" > /dev/null

# The copy is instrumented, never what others build and run.
rm -rf "$work/bin"
dotnet publish tests/Station.Fuzz --configuration Release --output "$work/bin" --verbosity quiet
"$work/tool/sharpfuzz" "$work/bin/Station.Audio.dll" Station.Audio.Reading
"$work/tool/sharpfuzz" "$work/bin/stationd.dll" Station.Daemon.Records

# A container's processor settings and core pattern are not ours to change; a crash is seen by the target's own report.
export AFL_SKIP_CPUFREQ=1 AFL_I_DONT_CARE_ABOUT_MISSING_CRASHES=1 AFL_SKIP_BIN_CHECK=1 AFL_NO_UI=1 AFL_NO_AFFINITY=1 AFL_AUTORESUME=1
export DOTNET_TieredPGO=0 DOTNET_gcConcurrent=0

findings=0
for target in "${targets[@]}"; do
  seeds="$work/seeds-$target"
  rm -rf "$seeds"
  dotnet "$work/bin/Station.Fuzz.dll" "seeds" "$target" "$seeds"
  out="$work/$target"
  echo "$target: $minutes minutes"
  afl-fuzz -i "$seeds" -o "$out" -V $((minutes * 60)) -t 10000 -m none -- \
    dotnet "$work/bin/Station.Fuzz.dll" "$target" > "$work/$target.log" 2>&1 || { tail -n 20 "$work/$target.log"; exit 1; }
  sed -nE 's/^(run_time|execs_done|execs_per_sec|corpus_count|edges_found|stability|saved_crashes|saved_hangs) *: */  \1 /p' "$out/default/fuzzer_stats"
  for kind in crashes hangs; do
    count=$(find "$out/default/$kind" -name 'id:*' | wc -l)
    findings=$((findings + count))
  done
done
echo "$findings findings"
exit "$((findings > 0))"
