#!/usr/bin/env bash
# Damages bags (a flipped bit, a cut, a removal, an addition, an exchange) and looks whether each damage is named; as many undamaged bags must not be blamed.
#   tests/damage-campaign.sh [COUNT] [SEED]
#     COUNT  damages, and clean bags (default 1000)
#     SEED   another seed is another campaign (default 1)
set -euo pipefail
cd "$(dirname "$0")/.."

deploy/packages.sh test
export STATION_DAMAGES=${1:-1000}
export STATION_DAMAGE_SEED=${2:-1}

dotnet build tests/Station.Archive.Tests --configuration Release --verbosity quiet
scratch=$(mktemp -d /dev/shm/sdd.XXXX)     # nothing here is to survive anything, and a sync in memory costs nothing
trap 'chmod -R u+w "$scratch"; rm -rf "$scratch"' EXIT
TMPDIR=$scratch dotnet test --project tests/Station.Archive.Tests --configuration Release --no-build --no-progress \
  --filter-class Station.Archive.Tests.Bags.BagDamageTests
