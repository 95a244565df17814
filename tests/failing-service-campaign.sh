#!/usr/bin/env bash
# Lets calls of the whole service fail while it takes in, archives, copies to a replica and publishes a capture: each kind of durable call (fsync, rename, link, unlink, mkdir, chmod),
# the n-th one of every thread, once and from then on for ever, by way of strace; SQLite's own calls and the runtime's among them. After each run:
#   - nothing says "archived" (event, report, interface) unless the bag is whole (sha256sum says so) and gives the dropped file back;
#   - the dropped file is whole somewhere: inbox, working, held, refused, or that bag; a bag under its final name is whole;
#   - the service ended the capture all the same, or goes on and said what is wrong, or ended with a line that says it; no crash;
#   - started again undisturbed it ends the capture, and leaves nothing unfinished behind.
# strace counts for each thread, and which thread makes which call differs from run to run: which places were failed is collected, and told beside all that an undisturbed service makes.
#   tests/failing-service-campaign.sh [MAX [ERRNO …]]     default: 12 EIO; MAX is the largest n
# Needs the right to trace (root, or ptrace allowed).
set -uo pipefail
cd "$(dirname "$0")/.."
most=${1:-12}
shift
[ $# -gt 0 ] || set -- EIO
deploy/packages.sh campaign || exit 69

dotnet build src/Station.Daemon --configuration Release --verbosity quiet || exit 70
stationd=$PWD/src/Station.Daemon/bin/Release/net10.0/stationd
export DOTNET_EnableDiagnostics=0      # the runtime's own sockets would be unlinked, too
root=$(mktemp -d /dev/shm/sfs.XXXX)
service=
end() { [ -z "$service" ] || kill -KILL -- "-$service" 2> /dev/null; chmod -R u+w "$root"; rm -rf "$root"; }
trap end EXIT
"$stationd" demo --into "$root" --length Seconds --no-sheet > /dev/null || exit 70
before=$(sha256sum < "$root/HL-0031-A.wav")
failures=0
runs=0
unhurt=0
wrong() { echo "WRONG: $what: $1"; failures=$((failures + 1)); tail -n 8 "$root/log"; }

bag=archive/HL-0031/HL-0031-A-c1
bag_is_whole() {
    (cd "$1/$2" 2> /dev/null && sha256sum --quiet --check tagmanifest-sha256.txt manifest-sha256.txt) > /dev/null 2>&1 \
        && rm -f "$root/back.wav" && "$stationd" restore "$1/$2" -o "$root/back.wav" > /dev/null 2>&1 && [ "$(sha256sum < "$root/back.wav")" = "$before" ]
}

# Places by kind, whatever their ids: what a run's trace says was called, or was failed.
places() { sed -nE 's/^[0-9]+ +([a-z0-9]+)\((.*)\) += .*/\1 \2/p' "$1" | grep -F "$root/s" | sed -E "s#$root/s#s#g; s/[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}/JOB/g; s/\.part-[0-9a-f]{16}/PART/g; s/sdt?-?[0-9a-f]{32}/ID/g; s/\b[0-9]+</</g; s/, 0[0-7]+\b//g" | sort -u; }

station() {
    mkdir -p "$root/s/inbox" "$root/attic"
    cat > "$root/station.json" << JSON
{ "Station": { "Name": "quay", "Folder": "$root/s" },
  "Intake": { "QuietSeconds": 0.2, "UnfinishedQuietSeconds": 0.5, "SweepSeconds": 0.2, "KeepFreeBytes": 0 },
  "Division": { "ShortestTrackSeconds": 3 },
  "Listening": { "Formats": ["flac"] },
  "Log": { "File": false },
  "Status": { "Listen": "127.0.0.1:0" },
  "Copies": { "BeforeRelease": 2, "Replicas": [ { "Name": "attic", "Folder": "$root/attic" } ] } }
JSON
    "$stationd" replica prepare attic --config "$root/station.json" > /dev/null || exit 70
    cp "$root/HL-0031-A.wav" "$root/s/inbox/HL-0031-A.wav"
}

# start [STRACE OPTIONS …]: the service in a session of its own, traced when options are given.
start() {
    : > "$root/log"
    if [ $# -gt 0 ]; then set -- strace -f -y -qq -o "$root/trace" "$@"; fi
    setsid "$@" "$stationd" run --config "$root/station.json" > "$root/log" 2>&1 &
    service=$!
}

# await SECONDS: until the capture is done, in the archive and at the replica, and let go; or the service has ended.
await() {
    local n
    for ((n = 0; n < $1 * 5; n++)); do
        if grep -q '"state": "done"' "$root"/s/reports/HL-0031-A-c1-*.json 2> /dev/null && grep -q '"take accepted"' "$root/s/archive/HL-0031/events.jsonl" 2> /dev/null \
            && [ -z "$(find "$root/s/working" -name HL-0031-A.wav -print -quit)" ] && [ -d "$root/attic/HL-0031/HL-0031-A-c1" ] && grep -q "Application started" "$root/log"; then return 0; fi
        kill -0 "$service" 2> /dev/null || return 1
        sleep 0.2
    done
    return 1
}

stop() {
    pkill -TERM --session "$service" stationd 2> /dev/null
    local n
    for ((n = 0; n < 75; n++)); do pgrep --session "$service" stationd > /dev/null || break; sleep 0.2; done
    pkill -KILL --session "$service" 2> /dev/null
    wait "$service" 2> /dev/null
    code=$?
    service=
}

kept() {
    local file
    while IFS= read -r file; do [ "$(sha256sum < "$file")" != "$before" ] || return 0; done < <(find "$root/s/inbox" "$root/s/working" "$root/s/held" "$root/s/refused" -type f -name '*.wav' 2> /dev/null)
    bag_is_whole "$root/s" "$bag"
}

# run CALLS ERRNO WHEN SECONDS; returns 1 when no thread made so many calls.
run() {
    what="$1 $3: $2"
    station
    start -e trace="$1" -e inject="$1:error=$2:when=$3"
    await "$4"
    local ended=$?
    if [ $ended -ne 0 ] && ! grep -q INJECTED "$root/trace"; then await 60; ended=$?; fi      # a busy machine: no such call was made yet
    local alive=no
    pgrep --session "$service" stationd > /dev/null && alive=yes
    stop
    if ! grep -q "$2 .*INJECTED" "$root/trace"; then
        [ $ended -eq 0 ] || wrong "nothing failed, and it did not come to its end"
        clean
        return 1
    fi
    runs=$((runs + 1))
    grep INJECTED "$root/trace" > "$root/injected"
    places "$root/injected" >> "$root/failed-places"
    [ $ended -eq 0 ] && unhurt=$((unhurt + 1))
    if [ $ended -ne 0 ] && ! grep -qE "WRN|ERR|FTL|rror" "$root/log"; then wrong "it did not end the capture, and said nothing"; fi
    if [ $alive = no ] && [ $ended -ne 0 ]; then
        grep -qE "Unhandled exception|SIGABRT|core dumped" "$root/log" && wrong "it crashed"
        [ -s "$root/log" ] || wrong "it ended and said nothing"
    fi
    if grep -q '"ingestion"' "$root/s/archive/HL-0031/events.jsonl" 2> /dev/null || grep -q '"archive": {' "$root"/s/reports/*.json 2> /dev/null || grep -q "HL-0031-A-c1: archive done" "$root/log"; then
        bag_is_whole "$root/s" "$bag" || wrong "told as archived, and the bag is not whole"
    fi
    if [ -d "$root/s/$bag" ]; then bag_is_whole "$root/s" "$bag" || wrong "a bag under its final name is not whole"; fi
    if [ -d "$root/attic/HL-0031/HL-0031-A-c1" ]; then bag_is_whole "$root/attic" HL-0031/HL-0031-A-c1 || wrong "a copy under its final name is not whole"; fi
    kept || wrong "the dropped file is nowhere"

    start
    await 40 || { if compgen -G "$root/s/held/HL-0031-A-c1/*.wav" > /dev/null; then
        # Set aside after too many tries: a person tries it again.
        "$stationd" retry HL-0031-A-c1 --config "$root/station.json" > /dev/null 2>&1; await 40 || wrong "a retry did not end it"; else wrong "the next start did not end it"; fi; }
    stop
    bag_is_whole "$root/s" "$bag" || wrong "the bag is not whole after the next start"
    bag_is_whole "$root/attic" HL-0031/HL-0031-A-c1 || wrong "the copy is not whole after the next start"
    [ -z "$(find "$root/s/archive" "$root/s/reports" "$root/s/held" "$root/s/refused" "$root/attic" -name '.part-*' -print -quit)" ] || wrong "temporary names are left"
    [ -z "$(find "$root/s/inbox" "$root/s/working" -name '*.wav' -print -quit)" ] || wrong "the dropped file is still there"
    clean
}

clean() { chmod -R u+w "$root/s" "$root/attic"; rm -rf "$root/s" "$root/attic"; }

all=fsync,fdatasync,rename,renameat,renameat2,link,linkat,unlink,unlinkat,rmdir,chmod,fchmod,mkdir,mkdirat
what="undisturbed, traced"
station
start -e trace=$all
await 60 || { wrong "it did not come to its end"; cat "$root/log"; exit 70; }
stop
clean
places "$root/trace" > "$root/all-places"
: > "$root/failed-places"
echo "an undisturbed run makes durable calls at $(wc -l < "$root/all-places") places"

for errno in "$@"; do
    for calls in ${CALLS:-fsync,fdatasync rename,renameat,renameat2 link,linkat unlink,unlinkat,rmdir mkdir,mkdirat chmod,fchmod}; do
        for ever in "" +; do
            at=$runs
            seconds=25
            [ -z "$ever" ] || seconds=8
            for ((n = 1; n <= most; n++)); do run "$calls" "$errno" "$n$ever" $seconds || break; done
            echo "$calls: $errno, $([ -z "$ever" ] && echo once a thread || echo 'for ever'): $((runs - at)) runs, $failures wrong so far"
        done
    done
done
sort -u -o "$root/failed-places" "$root/failed-places"
sed -i -E 's/ = -1.*//' "$root/failed-places"
echo "$runs failing runs, $unhurt of them ended the capture all the same, $failures wrong; $(comm -12 "$root/all-places" "$root/failed-places" | wc -l) of $(wc -l < "$root/all-places") places failed at least once"
[ -z "${SHOW_PLACES:-}" ] || comm -23 "$root/all-places" "$root/failed-places"
[ "$failures" -eq 0 ] && [ "$runs" -gt 0 ]
