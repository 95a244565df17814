#!/usr/bin/env bash
# Breaks captures of every format in a seeded way, reads each as the service would, and looks whether the readers keep their promises.
#   tests/mutation-campaign.sh [COUNT] [SEED] [FINDINGS]
#     COUNT     files (default 10000)
#     SEED      another seed is another campaign (default 1)
#     FINDINGS  folder for the files that broke something (default: a folder under the temporary one)
# Ends with "N findings"; exit code 1 when there are any. To see one again: Station.Mutation one SEED INDEX FILE.
set -euo pipefail
cd "$(dirname "$0")/.."

count=${1:-10000}
seed=${2:-1}
findings=${3:-${TMPDIR:-/tmp}/station-mutation-findings}

deploy/packages.sh test
dotnet build tests/Station.Mutation --configuration Release --verbosity quiet
exec dotnet run --project tests/Station.Mutation --configuration Release --no-build -- campaign "$count" "$seed" "$findings"
