#!/usr/bin/env bash
# Cuts the power of the real service, its archive and a replica on two ext4 file systems, and looks after each cut whether anything acknowledged is lost.
#   tests/power-cut-campaign.sh [CUTS] [SEED] [EVERY]    syncs as the service makes them: nothing may be lost
#   tests/power-cut-campaign.sh --no-sync [CUTS] [SEED]  control, syncs swallowed (strace): something acknowledged must be lost, else this proves nothing
# A cut: every process of the service is stopped, both images are copied as they lie below the file systems (what was not synced is still in the page cache and so not in
# them; a copy that changed meanwhile is made again), and the service goes on. Each copy is mounted, its journal replayed, looked at, and on every EVERY-th (default each) the service is started and has to end all that was dropped.
# Needs root, and a kernel that mounts ext4 images.
set -euo pipefail
cd "$(dirname "$0")/.."

sync=yes
if [ "${1:-}" = --no-sync ]; then sync=no; shift; fi
cuts=${1:-100}
RANDOM=${2:-1}
every=${3:-1}
[ "$(id -u)" -eq 0 ] || { echo "needs root: it mounts file systems"; exit 69; }
deploy/packages.sh campaign

dotnet build src/Station.Daemon --configuration Release --verbosity quiet
stationd=$PWD/src/Station.Daemon/bin/Release/net10.0/stationd
scratch=$(mktemp -d /dev/shm/spc.XXXX)
group=
end() {
    [ -z "$group" ] || kill -KILL -- "-$group" 2> /dev/null || true
    for place in "$scratch"/*/archive-disk "$scratch"/*/replica-disk; do umount "$place" 2> /dev/null || umount --lazy "$place" 2> /dev/null || true; done
    rm -rf "$scratch"
}
trap end EXIT

# settings FOLDER: the configuration of a station whose two disks are mounted below FOLDER.
settings() {
    cat > "$1/station.json" << JSON
{ "Station": { "Name": "quay", "Folder": "$1/archive-disk/s" },
  "Intake": { "QuietSeconds": 0.2, "UnfinishedQuietSeconds": 0.5, "SweepSeconds": 0.2, "KeepFreeBytes": 0 },
  "Listening": { "Formats": ["flac"] },
  "Status": { "Listen": "127.0.0.1:0" },
  "Copies": { "Replicas": [ { "Name": "attic", "Folder": "$1/replica-disk/copies" } ] } }
JSON
}

# start FOLDER [PROGRAM …]: the service in a process group of its own; $group is it, $1/log what it says.
start() {
    local folder=$1; shift
    : > "$folder/log"
    setsid "$@" "$stationd" run --config "$folder/station.json" > "$folder/log" 2>&1 &
    group=$!
}

stop() { kill -TERM -- "-$group" 2> /dev/null || true; wait "$group" 2> /dev/null || true; group=; }

# await FOLDER PATTERN COUNT SECONDS
await() {
    local n
    for ((n = 0; n < $4 * 10; n++)); do
        [ "$(grep -c -E "$2" "$1/log" || true)" -ge "$3" ] && return 0
        kill -0 "$group" 2> /dev/null || return 1
        sleep 0.1
    done
    return 1
}

# drop FILE AS FOLDER: as a careful program does, so that from the return on it may not be lost.
drop() { cp "$1" "$3/archive-disk/s/inbox/.arriving"; sync "$3/archive-disk/s/inbox/.arriving"; mv -n "$3/archive-disk/s/inbox/.arriving" "$3/archive-disk/s/inbox/$2"; sync "$3/archive-disk/s/inbox"; }

# Three captures: two sides, and the first once more with one bit of it different.
mkdir "$scratch/sides"
"$stationd" demo --into "$scratch/sides" --length Seconds --side A > /dev/null
"$stationd" demo --into "$scratch/sides" --length Seconds --side B > /dev/null
cp "$scratch/sides/HL-0031-A.wav" "$scratch/sides/again.wav"
printf '\x01' | dd of="$scratch/sides/again.wav" bs=1 seek=$(($(stat -c %s "$scratch/sides/again.wav") / 2)) conv=notrunc status=none
digests=()
for side in HL-0031-A HL-0031-B again; do digests+=("$(sha256sum < "$scratch/sides/$side.wav" | cut -d ' ' -f 1)"); done

wrong=0
lost() { echo "cut $cut: $1"; wrong=$((wrong + 1)); }

# whole FOLDER: SHA-256 of every dropped file that is there whole: as itself, or restored from a bag.
whole() {
    local station=$1/archive-disk/s bag
    find "$station/inbox" "$station/working" "$station/held" "$station/refused" -name '*.wav' -not -name '.*' -exec sha256sum {} + 2> /dev/null | cut -d ' ' -f 1 || true
    for bag in "$station"/archive/*/*-c*; do
        [ -d "$bag" ] || continue
        rm -f "$1/back"
        if "$stationd" restore "$bag" -o "$1/back" > /dev/null 2>&1; then sha256sum < "$1/back" | cut -d ' ' -f 1; fi
    done
}

# look FOLDER: is everything there that was acknowledged when the power went? $dropped, $done and $copied hold what was.
look() {
    local digest label there
    "$stationd" verify "$1/archive-disk/s/archive" > "$1/archive.verify" 2>&1 || true
    "$stationd" verify "$1/replica-disk/copies" > "$1/replica.verify" 2>&1 || true
    there=$(whole "$1")
    for digest in $dropped; do grep -q "$digest" <<< "$there" || lost "a dropped capture is nowhere whole: $digest"; done
    for label in $done; do grep -q "^valid .*/$label\$" "$1/archive.verify" || lost "$label was done, and its bag does not verify"; done
    for label in $copied; do grep -q "^valid .*/$label\$" "$1/replica.verify" || lost "$label was proved at the replica, and does not verify there"; done
}

# recover FOLDER: the service comes back by itself, ends all that was dropped, and leaves nothing behind.
recover() {
    local station=$1/archive-disk/s n=0 bag digest there
    settings "$1"
    start "$1"
    await "$1" 'Application started' 1 60 || { lost "the service does not start: $(grep -v '^$' "$1/log" | tail -n 1)"; stop; return; }
    for ((n = 0; n < 600; n++)); do
        if [ -z "$(find "$station/inbox" "$station/working" -mindepth 1 -not -name '*.sheet.yaml' -print -quit)" ]; then break; fi
        sleep 0.1
    done
    [ "$n" -lt 600 ] || lost "after 60 s there is still: $(cd "$station" && find inbox working -mindepth 1 | tr '\n' ' '); $(grep -E "WRN|ERR" "$1/log" | tail -n 1)"
    stop
    there=$(whole "$1")
    for digest in $dropped; do grep -q "$digest" <<< "$there" || lost "after the recovery a dropped capture is nowhere whole: $digest"; done
    "$stationd" verify "$station/archive" > "$1/verify" 2>&1 || lost "after the recovery: $(cat "$1/verify")"
    "$stationd" verify "$1/replica-disk/copies" > "$1/verify" 2>&1 || lost "after the recovery, replica: $(cat "$1/verify")"
    for bag in "$station"/archive/*/*-c*; do
        diff -r "$bag" "$1/replica-disk/copies/HL-0031/$(basename "$bag")" > /dev/null 2>&1 || lost "after the recovery the replica of $(basename "$bag") differs"
    done
    [ "$(find "$station/archive" "$1/replica-disk/copies" -mindepth 2 -maxdepth 2 -name '*-c*' -type d | wc -l)" -eq $((2 * $(wc -w <<< "$dropped"))) ] || lost "not one bag and one copy for each capture: $(ls "$station"/archive/* "$1/replica-disk/copies"/*)"
    [ -z "$(find "$station" "$1/replica-disk/copies" -name '.part-*' -print -quit)" ] || lost "temporary names are left: $(find "$station" "$1/replica-disk/copies" -name '.part-*')"
}

mounted() { mkdir -p "$2/archive-disk" "$2/replica-disk"; mount -o "loop,$1" "$2/a.img" "$2/archive-disk"; mount -o "loop,$1" "$2/r.img" "$2/replica-disk"; }
unmounted() { umount "$1/archive-disk" "$1/replica-disk"; }

# snapshot FROM TO: both images at one instant.
snapshot() {
    local tries
    mkdir -p "$2"
    for ((tries = 0; tries < 20; tries++)); do
        for image in a.img r.img; do cp --sparse=always "$1/$image" "$2/$image"; done
        if cmp -s "$1/a.img" "$2/a.img" && cmp -s "$1/r.img" "$2/r.img"; then return; fi
    done
    echo "the kernel writes without end: no instant could be copied"; exit 70
}

cut=0
runs=0
recovered=0
while [ "$cut" -lt "$cuts" ]; do
    runs=$((runs + 1))
    run=$scratch/run
    mkdir "$run"
    for image in a.img r.img; do truncate --size 256M "$run/$image"; mkfs.ext4 -q -F -E lazy_itable_init=0,lazy_journal_init=0 "$run/$image"; done
    # Journals of one second put names on disk long before data that was not synced; those of ten minutes put nothing there that was not synced.
    mounted "commit=$((runs % 2 ? 1 : 600))" "$run"
    mkdir -p "$run/archive-disk/s/inbox" "$run/replica-disk/copies"
    settings "$run"
    "$stationd" replica prepare attic --config "$run/station.json" > /dev/null
    cp "$scratch/sides/HL-0031.sheet.yaml" "$run/archive-disk/s/inbox/"
    sync --file-system "$run/archive-disk" "$run/replica-disk"
    if [ $sync = yes ]; then start "$run"; else start "$run" strace --follow-forks --seccomp-bpf --quiet=all --output=/dev/null --trace=fsync,fdatasync --inject=fsync,fdatasync:retval=0; fi
    await "$run" 'Application started' 1 60 || { cat "$run/log"; exit 70; }
    drop "$scratch/sides/HL-0031-A.wav" HL-0031-A.wav "$run"
    drop "$scratch/sides/HL-0031-B.wav" HL-0031-B.wav "$run"
    dropped="${digests[0]} ${digests[1]}"
    again=no
    for ((k = 0; k < 6 && cut < cuts; k++)); do
        sleep "$((RANDOM % 2)).$((RANDOM % 10))$((RANDOM % 10))"
        if [ $again = no ] && [ ! -e "$run/archive-disk/s/inbox/HL-0031-A.wav" ]; then
            drop "$scratch/sides/again.wav" HL-0031-A.wav "$run"
            dropped="${digests[*]}"
            again=yes
        fi
        cut=$((cut + 1))
        kill -STOP -- "-$group"
        done=$(sed -nE 's/.* "?(HL-0031-[AB]-c[0-9]+)"?: done, verdict.*/\1/p' "$run/log")
        copied=$(sed -nE 's/.* "?(HL-0031-[AB]-c[0-9]+)"?: copied to .*/\1/p' "$run/log")
        snapshot "$run" "$scratch/cut-$cut"
        kill -CONT -- "-$group"
        printf '%s\n%s\n%s\n' "$dropped" "${done//$'\n'/ }" "${copied//$'\n'/ }" > "$scratch/cut-$cut/said"
    done
    stop
    unmounted "$run"
    rm -rf "$run"
    last=$cut
    for folder in $(ls -d "$scratch"/cut-* | sort -V); do
        cut=${folder##*-}
        { read -r dropped; read -r done; read -r copied; } < "$folder/said"
        mounted defaults "$folder"
        look "$folder"
        if [ $sync = yes ] && [ $((cut % every)) -eq 0 ]; then recover "$folder"; recovered=$((recovered + 1)); fi
        unmounted "$folder"
        for image in a.img r.img; do e2fsck -f -n "$folder/$image" > "$folder/fsck" 2>&1 || [ $sync = no ] || lost "$image: $(tail -n 2 "$folder/fsck")"; done
        echo "cut $cut: dropped $(wc -w <<< "$dropped"), done $(wc -w <<< "$done"), copied $(wc -w <<< "$copied"); $wrong wrong so far"
        rm -rf "$folder"
    done
    cut=$last
done
echo "$cut power cuts in $runs runs, syncs $([ $sync = yes ] && echo as made || echo swallowed), $recovered recovered by the service: $wrong wrong"
if [ $sync = yes ]; then [ "$wrong" -eq 0 ]; else [ "$wrong" -gt 0 ] || { echo "the control lost nothing: the campaign proves nothing"; exit 1; }; fi
