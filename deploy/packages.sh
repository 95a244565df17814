#!/usr/bin/env bash
# Installs the Debian packages StationDaemon uses, if they are missing.
#   deploy/packages.sh run     what the service needs: flac, lame, opus-tools, vorbis-tools
#   deploy/packages.sh try     the same and what ./deploy/try.sh shows its results with
#   deploy/packages.sh test    the same and what the tests compare with
#   deploy/packages.sh campaign  the same as run and what the campaigns of tests/ break things with
set -euo pipefail

declare -A package_of=(
  [flac]=flac [metaflac]=flac [lame]=lame [opusenc]=opus-tools [oggenc]=vorbis-tools
  [curl]=curl [python3]=python3 [sha256sum]=coreutils
  [ffmpeg]=ffmpeg [ffprobe]=ffmpeg [chromium]=chromium
  [strace]=strace [pkill]=procps [setsid]=util-linux [losetup]=mount [mount]=mount [mkfs.ext4]=e2fsprogs [e2fsck]=e2fsprogs
)
run=(flac metaflac lame opusenc oggenc)
try=("${run[@]}" curl python3 sha256sum)
test=("${try[@]}" ffmpeg ffprobe chromium)
campaign=("${run[@]}" sha256sum strace pkill setsid losetup mount mkfs.ext4 e2fsck)

case "${1:-run}" in
  run) needed=("${run[@]}") ;;
  try) needed=("${try[@]}") ;;
  test) needed=("${test[@]}") ;;
  campaign) needed=("${campaign[@]}") ;;
  *) echo "usage: $0 run|try|test|campaign" >&2; exit 64 ;;
esac

missing=()
for program in "${needed[@]}"; do
  command -v "$program" > /dev/null || missing+=("${package_of[$program]}")
done
if [[ "${1:-run}" =~ ^(try|test)$ ]] && ! python3 -W ignore -c 'import jsonschema' 2> /dev/null; then
  missing+=(python3-jsonschema)
fi
if [ "${1:-run}" = test ]; then
  # What has no program: the loudness library our meters are compared with, and ten megabytes of freely licensed music to compare on.
  ldconfig -p | grep -q 'libebur128\.so\.1 ' || missing+=(libebur128-1)
  [ -d /usr/share/games/asc/music ] || missing+=(asc-music)
fi
if [ ${#missing[@]} -eq 0 ]; then
  exit 0
fi

mapfile -t missing < <(printf '%s\n' "${missing[@]}" | sort -u)
echo "Installing Debian packages: ${missing[*]}"
sudo=()
if [ "$(id -u)" -ne 0 ]; then
  command -v sudo > /dev/null || { echo "Please install as root: apt-get install ${missing[*]}" >&2; exit 1; }
  sudo=(sudo)
fi
"${sudo[@]}" apt-get update -qq
DEBIAN_FRONTEND=noninteractive "${sudo[@]}" apt-get install -y -qq --no-install-recommends "${missing[@]}" > /dev/null
