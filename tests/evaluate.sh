#!/usr/bin/env bash
# How good the inspection is: makes record sides with known faults from freely licensed music, has them judged, prints a table.
# Ends with 0 when every goal is met, 1 when not. What is made and how it is scored: docs/evaluation.md.
#   tests/evaluate.sh [--sides N] [--clean N] [--classes a,b,clean] [--seeds 1,2] [--set tuning|counting] [--seconds N] [--jobs N] [--out FILE.json] [--keep FOLDER] [--noise A,B,E]
#   tests/evaluate.sh --sides 1 --clean 30 --seconds 100          a quick look at everything, with short sides
#   tests/evaluate.sh --set counting --out counting.json        the table that counts: about an hour and a half on two cores
#   tests/evaluate.sh --write 'saturated/one-sided, 3 dB drive/0/11' --out side.wav     one side of the tuning set, for listening
#   tests/evaluate.sh --keep FOLDER …         tuning sides are made once and read again; empty the folder after a change to the generator
# Music comes from Debian packages, fetched once into ~/.cache/station-evaluation (or --cache FOLDER) and never committed.
set -euo pipefail
cd "$(dirname "$0")/.."
for tool in ffmpeg dpkg apt-get dotnet; do
  command -v "$tool" > /dev/null || { echo "evaluate.sh needs $tool" >&2; exit 69; }
done
dotnet build tests/Station.Evaluation --configuration Release --verbosity quiet --nologo 1>&2
exec dotnet tests/Station.Evaluation/bin/Release/net10.0/Station.Evaluation.dll "$@"
