#!/bin/bash
# Lets the n-th fsync of one archiving run fail with EIO, for every n, by way of strace, and looks whether
#   - the run says so (exit code 3, one line on standard error),
#   - the capture is still whole in working/ (the source is removed only after everything was synced),
#   - a bag under its final name is complete,
#   - the next, undisturbed run ends it.
# Not part of the suite: it needs strace and the right to trace. Usage: fsync-errors.sh [ERRNO], default EIO; ENOSPC and EDQUOT are worth a run too.
set -u
errno=${1:-EIO}
here=$(cd "$(dirname "$0")/.." && pwd)
child=$(ls -t "$here"/bin/*/net10.0/Station.Archive.Tests | head -n 1)
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
failures=0
fail() { echo "FAILED at fsync $n: $1"; failures=$((failures + 1)); }

for ((n = 1; ; n++)); do
    station=$root/$n
    mkdir -p "$station/working"
    head -c 1500000 /dev/urandom > "$station/working/HL-0031-A.wav"
    before=$(sha256sum < "$station/working/HL-0031-A.wav")
    # -f follows the threads; the counter of "when" is per thread, and the run does all its work on one.
    strace -f -qq -o "$root/trace" -e trace=fsync -e inject=fsync:error="$errno":when="$n" \
        "$child" child archive "$station" 2> "$root/error"
    code=$?
    injected=$(grep -c INJECTED "$root/trace")
    if [ "$injected" -eq 0 ]; then
        [ "$code" -eq 0 ] || fail "undisturbed run ended with $code"
        break
    fi
    recovered=no
    [ "$code" -eq 0 ] && [ "$(wc -l < "$station/archive/events.jsonl")" -eq 1 ] && recovered=yes
    if [ "$recovered" = no ]; then
        [ "$code" -eq 3 ] || fail "exit code $code: $(cat "$root/error")"
        [ "$(wc -l < "$root/error")" -eq 1 ] || fail "not one line of error: $(cat "$root/error")"
        if [ -e "$station/working/HL-0031-A.wav" ]; then
            [ "$(sha256sum < "$station/working/HL-0031-A.wav")" = "$before" ] || fail "capture changed"
        else
            # Only the very last one, of the folder the source was removed from, comes after the removal.
            grep -q "fsync .*/working: " "$root/error" || fail "capture removed although a sync had failed"
        fi
    fi
    if [ -d "$station/archive/HL-0031-A-c1" ]; then
        (cd "$station/archive/HL-0031-A-c1" && sha256sum --quiet --check tagmanifest-sha256.txt manifest-sha256.txt) || fail "bag not complete"
    fi
    if [ -e "$station/working/HL-0031-A.wav" ]; then
        "$child" child archive "$station" || fail "the next run did not end it"
    fi
    (cd "$station/archive/HL-0031-A-c1" && sha256sum --quiet --check manifest-sha256.txt) || fail "bag not valid after the next run"
    [ "$(sha256sum < "$station/archive/HL-0031-A-c1/data/side.wav")" = "$before" ] || fail "archived bytes differ"
    [ -e "$station/working/HL-0031-A.wav" ] && fail "source still there"
    ls -A "$station/archive" | grep -q '^\.part-' && fail "temporary names left"
    echo "fsync $n: $([ "$recovered" = yes ] && echo 'survived' || cat "$root/error")"
    rm -rf "$station"
done
echo "$((n - 1)) sync failures, $failures wrong"
[ "$failures" -eq 0 ]
