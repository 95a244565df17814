#!/usr/bin/env bash
# Sets up and runs the tests: packages, build with warnings as errors and analyzers, formatting, every test project.
# Ends with a line "N passed, N failed". Once packages are there it works offline.
#   tests/run.sh [PROJECT …]     for example: tests/run.sh Station.Audio.Tests
set -euo pipefail
cd "$(dirname "$0")/.."

deploy/packages.sh test
dotnet restore StationDaemon.sln --verbosity quiet
dotnet build StationDaemon.sln --configuration Release --no-restore --verbosity quiet
dotnet format StationDaemon.sln --no-restore --verify-no-changes

if [ $# -gt 0 ]; then
  projects=("$@")
else
  projects=(Station.Audio.Tests Station.Archive.Tests Station.Daemon.Tests Station.EndToEnd.Tests)
fi

# The runtime leaves sockets and pipes of killed processes in the temporary folder, and the tests kill many: one of their own goes at the end.
# Its name is short because a socket's path may have 107 bytes.
scratch=$(mktemp -d /tmp/sdt.XXXX)
trap 'rm -rf "$scratch"' EXIT
export TMPDIR=$scratch

passed=0
failed=0
status=0
for project in "${projects[@]}"; do
  log=$(mktemp)
  dotnet test --project "tests/$project" --configuration Release --no-build --no-progress | tee "$log" || status=1
  # The runner's own summary: "  total: 12", "  failed: 0", "  succeeded: 12", "  skipped: 0".
  total=$(sed -nE 's/^ *total: ([0-9]+).*/\1/p' "$log" | tail -n 1)
  bad=$(sed -nE 's/^ *failed: ([0-9]+).*/\1/p' "$log" | tail -n 1)
  good=$(sed -nE 's/^ *succeeded: ([0-9]+).*/\1/p' "$log" | tail -n 1)
  rm -f "$log"
  if [ -z "$total" ] || [ "$total" -eq 0 ]; then
    echo "$project ran no test"
    failed=$((failed + 1))
    status=1
    continue
  fi
  passed=$((passed + good))
  failed=$((failed + bad))
done

if [ "$status" -ne 0 ] && [ "$failed" -eq 0 ]; then
  failed=1       # a runner that died counts
fi
echo "$passed passed, $failed failed"
exit "$((failed > 0))"
