#!/usr/bin/env bash
# Kills the real service again and again and looks after every kill whether anything was lost, half published or done twice.
#   tests/kill-campaign.sh COUNT SEED [STEPS]
#     COUNT  kills at random moments (default 200)
#     SEED   another seed is another campaign (default 1)
#     STEPS  durable operations to kill before: "all" (the default), or how many are drawn
set -euo pipefail
cd "$(dirname "$0")/.."

deploy/packages.sh test
export STATION_KILLS=${1:-200}
export STATION_KILL_SEED=${2:-1}
export STATION_KILL_STEPS=${3:-all}

dotnet build tests/Station.EndToEnd.Tests --configuration Release --verbosity quiet
scratch=$(mktemp -d /tmp/sdt.XXXX)     # the runtime of a killed process leaves its sockets behind
trap 'rm -rf "$scratch"' EXIT
TMPDIR=$scratch dotnet run --project tests/Station.EndToEnd.Tests --configuration Release --no-build -- \
  --filter-class Station.EndToEnd.Tests.KillTests --show-live-output on --progress off
