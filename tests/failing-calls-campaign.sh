#!/usr/bin/env bash
# Lets the n-th fsync, rename, link, unlink, mkdir and chmod of an archiving run fail, for every n, once and from then on for ever, by way of strace. After each run:
#   - it said so: exit code 3 and one line on standard error, or it went another way and ended well (a rename by link, say);
#   - the event that says "archived" is only there when the bag is whole (sha256sum, not this project, says so);
#   - the capture is whole in working/, or its bag is;
#   - a bag under its final name is complete;
#   - the next, undisturbed run ends it, and leaves nothing behind.
# The same for moving a capture to another file system; there the source or the target is whole. Writes are left out: the runtime's own can't be told from the
# service's here, and full disks are tests of their own.
#   tests/failing-calls-campaign.sh [ERRNO …]     default: EIO ENOSPC
# Needs the right to trace (root, or ptrace allowed).
set -uo pipefail
cd "$(dirname "$0")/.."
[ $# -gt 0 ] || set -- EIO ENOSPC
deploy/packages.sh campaign || exit 69

dotnet build tests/Station.Archive.Tests --configuration Release --verbosity quiet || exit 70
child=$PWD/tests/Station.Archive.Tests/bin/Release/net10.0/Station.Archive.Tests
export DOTNET_EnableDiagnostics=0      # the runtime's own sockets would be unlinked, too
root=$(mktemp -d /dev/shm/sfc.XXXX)
trap 'chmod -R u+w "$root"; rm -rf "$root"' EXIT
head -c 1500000 /dev/urandom > "$root/side.wav"
before=$(sha256sum < "$root/side.wav")
failures=0
runs=0
wrong() { echo "WRONG: $what: $1"; failures=$((failures + 1)); }

bag_is_whole() {
    (cd "$1/archive/HL-0031-A-c1" 2> /dev/null && sha256sum --quiet --check tagmanifest-sha256.txt manifest-sha256.txt) > /dev/null 2>&1 \
        && [ "$(sha256sum < "$1/archive/HL-0031-A-c1/data/side.wav")" = "$before" ]
}

# run CALLS ERRNO WHEN [FURTHER INJECTION]; returns 1 when there was no such call any more.
run() {
    local station=$root/s code source
    what="$1 $3: $2${4:+ with $4}"
    mkdir -p "$station/working"
    cp "$root/side.wav" "$station/working/HL-0031-A.wav"
    strace -f -qq -o "$root/trace" -e trace="$1${4:+,${4%%:*}}" -e inject="$1:error=$2:when=$3" ${4:+-e inject="$4"} \
        "$child" child archive "$station" 2> "$root/error"
    code=$?
    if ! grep -E "$2 .*INJECTED" "$root/trace" > "$root/injected"; then
        [ "$code" -eq 0 ] || wrong "an undisturbed run ended with $code: $(cat "$root/error")"
        chmod -R u+w "$station"; rm -rf "$station"
        return 1
    fi
    runs=$((runs + 1))
    source=$station/working/HL-0031-A.wav
    case $code in
        0) bag_is_whole "$station" || wrong "ended well, and the bag is not whole" ;;
        3) [ "$(wc -l < "$root/error")" -eq 1 ] || wrong "not one line of error: $(cat "$root/error")" ;;
        *) wrong "exit code $code: $(head -n 3 "$root/error")" ;;
    esac
    if [ -s "$station/archive/events.jsonl" ] && grep -q ingestion "$station/archive/events.jsonl"; then bag_is_whole "$station" || wrong "told as archived, and the bag is not whole"; fi
    if [ -e "$source" ]; then
        [ "$(sha256sum < "$source")" = "$before" ] || wrong "the capture changed"
    else
        bag_is_whole "$station" || wrong "the capture is gone, and the bag is not whole"
    fi
    if [ -d "$station/archive/HL-0031-A-c1" ]; then bag_is_whole "$station" || wrong "a bag under its final name is not whole"; fi
    if [ -e "$source" ]; then "$child" child archive "$station" 2> "$root/error" || wrong "the next run did not end it: $(cat "$root/error")"; fi
    bag_is_whole "$station" || wrong "the bag is not whole after the next run"
    [ ! -e "$source" ] || wrong "the capture is still there after the next run"
    [ -z "$(find "$station" -name '.part-*' -print -quit)" ] || wrong "temporary names are left: $(find "$station" -name '.part-*' | tr '\n' ' ')"
    chmod -R u+w "$station"; rm -rf "$station"
}

# move CALLS ERRNO WHEN: a move onto a file system that knows no rename without replacement, so by way of a link.
move() {
    local from=$root/m/working/x.wav to=$root/m/archive/x.wav code
    what="move, $1 $3: $2"
    mkdir -p "$root/m/working" "$root/m/archive"
    cp "$root/side.wav" "$from"
    strace -f -qq -o "$root/trace" -e trace="$1,renameat2" -e inject="$1:error=$2:when=$3" -e inject=renameat2:error=EINVAL "$child" child move "$from" "$to" 2> "$root/error"
    code=$?
    if ! grep -E "$2 .*INJECTED" "$root/trace" > "$root/injected"; then
        [ "$code" -eq 0 ] || wrong "an undisturbed run ended with $code: $(cat "$root/error")"
        rm -rf "$root/m"
        return 1
    fi
    runs=$((runs + 1))
    [ "$code" -eq 3 ] || [ "$code" -eq 0 ] || wrong "exit code $code: $(head -n 3 "$root/error")"
    if [ "$code" -eq 0 ] || [ ! -e "$from" ]; then [ "$(sha256sum < "$to")" = "$before" ] || wrong "the target is not whole"; fi
    if [ -e "$to" ]; then [ "$(sha256sum < "$to")" = "$before" ] || wrong "a final name, and not whole"; fi
    if [ -e "$from" ]; then [ "$(sha256sum < "$from")" = "$before" ] || wrong "the source changed"; fi
    rm -rf "$root/m"
}

for errno in "$@"; do
    for calls in fsync,fdatasync rename,renameat,renameat2 rename,renameat unlink,unlinkat,rmdir chmod,fchmod mkdir,mkdirat; do
        # A plain rename is only made where the file system knows none without replacement: so that is refused then.
        further=; [ "$calls" != rename,renameat ] || further=renameat2:error=EINVAL
        for ever in "" +; do
            at=$runs
            for ((n = 1; n <= 200; n++)); do run "$calls" "$errno" "$n$ever" "$further" || break; done
            echo "$calls: $errno, $([ -z "$ever" ] && echo once || echo 'for ever'): $((runs - at)) runs, $failures wrong so far"
            [ "$n" -gt 1 ] || wrong "no such call was made: nothing was shown"
        done
    done
    for calls in fsync,fdatasync link,linkat unlink,unlinkat; do
        for ever in "" +; do
            at=$runs
            for ((n = 1; n <= 200; n++)); do move "$calls" "$errno" "$n$ever" || break; done
            echo "move, $calls: $errno, $([ -z "$ever" ] && echo once || echo 'for ever'): $((runs - at)) runs, $failures wrong so far"
            [ "$n" -gt 1 ] || wrong "no such call was made: nothing was shown"
        done
    done
done
echo "$runs failing runs, $failures wrong"
[ "$failures" -eq 0 ] && [ "$runs" -gt 0 ]
