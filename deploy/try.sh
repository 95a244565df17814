#!/usr/bin/env bash
# Sets everything up and shows the main job on synthesised sides of an invented record:
# a clean side goes from the inbox to a verified bag, tracks, a report and the status page;
# a side recorded too loud is held for a retake, with the advice in dB and an alert.
#   deploy/try.sh [STATION-FOLDER]      default: station-demo/<time> beside this script's project
# Needs the .NET 10 SDK. Installs the Debian packages flac, lame, opus-tools, vorbis-tools, curl, python3, python3-jsonschema if they are missing.
set -euo pipefail
cd "$(dirname "$0")/.."
project=$PWD
station=$(realpath -m "${1:-station-demo/$(date -u +%Y%m%dT%H%M%SZ)}")
[ -e "$station/inbox" ] && { echo "$station is a station already; name another folder." >&2; exit 64; }

say() { printf '\n== %s\n' "$*"; }
fail() { printf 'FAILED: %s\n' "$*" >&2; exit 1; }
free_port() { python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'; }
api() { curl --silent --show-error --fail --max-time 10 "http://127.0.0.1:$port$1"; }
field() { python3 -c 'import json, sys
value = json.load(sys.stdin)
for key in sys.argv[1].split("."):
    value = value[int(key)] if key.isdigit() else value[key]
print("" if value is None else value)' "$1"; }
check_report() {
  python3 -W ignore -m jsonschema --instance "$1" docs/schemas/station-report-1.json || fail "$1 is not valid against the schema"
  echo "the report is valid against docs/schemas/station-report-1.json"
}
job_state() { api "/api/v1/jobs/$1" 2> /dev/null | field state 2> /dev/null || true; }
wait_for() {    # capture, state
  for _ in $(seq 600); do
    state=$(job_state "$1")
    [ "$state" = "$2" ] && return 0
    case "$state" in refused | failed | discarded) break ;; esac
    sleep 0.5
  done
  tail -n 20 "$station/service.log" >&2
  fail "$1 is '$state' where '$2' was expected"
}

say "Packages and build"
deploy/packages.sh try
dotnet publish src/Station.Daemon --configuration Release --output artifacts/stationd --verbosity quiet --nologo
stationd=$project/artifacts/stationd/stationd

say "A station in $station"
mkdir -p "$station"
port=$(free_port)
receiver_port=$(free_port)
(umask 077; python3 -c 'import base64, os; print("whsec_" + base64.b64encode(os.urandom(32)).decode())' > "$station/alert-secret")
cat > "$station/station.json" <<JSON
{
  "Station": { "Name": "demo", "Folder": "$station" },
  "Intake": { "QuietSeconds": 1, "SweepSeconds": 0.5 },
  "Status": { "Listen": "127.0.0.1:$port" },
  "Alerts": { "Webhooks": [ { "Name": "receiver", "Url": "http://127.0.0.1:$receiver_port/", "SecretFile": "$station/alert-secret" } ] }
}
JSON
"$stationd" config check --config "$station/station.json"

pids=()
stop() { for pid in "${pids[@]}"; do kill "$pid" 2> /dev/null || true; done; wait 2> /dev/null || true; }
trap stop EXIT
python3 deploy/alert-receiver.py "$receiver_port" "$station/alert-secret" "$station/alerts-received.jsonl" &
pids+=($!)
"$stationd" run --config "$station/station.json" > "$station/service.log" 2>&1 &
service=$!
pids+=("$service")
for _ in $(seq 120); do api /health/ready > /dev/null 2>&1 && break; kill -0 "$service" 2> /dev/null || break; sleep 0.25; done
api /health/ready > /dev/null || { cat "$station/service.log" >&2; fail "the service did not start"; }
echo "The service runs; its page is http://127.0.0.1:$port/"

say "Side A, recorded well, and side B, recorded 6 dB too loud, are dropped into the inbox"
"$stationd" demo --into "$station/inbox" --side A
"$stationd" demo --into "$station/inbox" --side B --overdrive-db 6 --no-sheet

say "The clean side"
wait_for HL-0031-A-c1 done
report=$(ls "$station"/reports/HL-0031-A-c1-*.json)
bag=$station/archive/HL-0031/HL-0031-A-c1
[ "$(field job.verdict < "$report")" = accept ] || fail "the verdict is not accept"
echo "verdict: accept; loudness $(field measures.loudnessLufs < "$report") LUFS, sample peak $(field measures.samplePeakDbfs.0 < "$report") dBFS"
check_report "$report"
echo "the bag, checked with standard tools:"
(cd "$bag" && sha256sum --check --quiet manifest-sha256.txt && sha256sum --check --quiet tagmanifest-sha256.txt) || fail "sha256sum disagrees with the bag"
echo "  sha256sum --check: every file as listed"
flac --test --silent "$bag/data/master.flac" || fail "the master does not decode"
echo "  flac --test: the master decodes to its own checksum"
"$stationd" verify "$bag"
"$stationd" restore "$bag" -o "$station/restored.wav" > /dev/null
[ "$(sha256sum < "$station/restored.wav")" = "$(field capture.sha256 < "$report")  -" ] || fail "the restored file differs from the dropped one"
echo "  stationd restore: the dropped file came back, bit for bit"
rm "$station/restored.wav"
echo "the tracks:"
find "$station/listening" -name '*.flac' -o -name '*.mp3' | sort | sed "s|$station/|  |"
first=$(find "$station/listening" -name '*.flac' | sort | head -n 1)
echo "tags of $(basename "$first"):"
metaflac --export-tags-to=- "$first" | sed 's/^/  /'

say "The clipped side"
wait_for HL-0031-B-c1 held
report=$station/held/HL-0031-B-c1/report.json
[ "$(field job.verdict < "$report")" = retake ] || fail "the verdict is not retake"
check_report "$report"
echo "verdict: retake"
echo "why: $(field job.reason < "$report")"
echo "recommended change of the recording level: $(field level.recommendedChangeDb < "$report") dB"
for _ in $(seq 60); do [ -s "$station/alerts-received.jsonl" ] && break; sleep 0.5; done
[ -s "$station/alerts-received.jsonl" ] || fail "no alert was received"
echo "the alert as the local receiver got it, signature checked:"
echo "  $(head -n 1 "$station/alerts-received.jsonl" | cut -c 1-400)"
[ -z "$(find "$station/listening" -path '*B-*' -o -name '*Ebb*')" ] || fail "something of the clipped side was published"
[ -e "$station/held/HL-0031-B-c1/HL-0031-B.wav" ] || fail "the held capture is not there"
echo "nothing of it was published; the capture waits in held/HL-0031-B-c1/"

say "The page"
api / | grep -q 'HL-0031' || fail "the page does not show the record"
echo "http://127.0.0.1:$port/ showed both sides while the service ran"

kill -TERM "$service"
wait "$service" || fail "the service did not stop cleanly"
echo "The service stopped cleanly."
say "The station is left in $station"
echo "Start it again:  $stationd run --config $station/station.json"
