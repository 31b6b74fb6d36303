#!/bin/sh
# Runs one fuzz target for some seconds of the clock and says how much it did; what it finds lies in ../target/found.
#     fuzz/run.sh TARGET SECONDS [FOLDER OF BINARIES] [FOLDER OF CORPORA]
# Build the binaries first: cargo +nightly fuzz build --sanitizer none   (in this folder)
# Unsafe code is forbidden in ribwright, so that a sanitizer of memory has nothing to look for; without one the limit of
# 300 MB is that of the process itself.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
target=$1 seconds=$2
binaries=${3:-$here/target/x86_64-unknown-linux-gnu/release}
corpus=${4:-$here/target/corpora}/$target
found=$here/target/found/$target
mkdir -p "$corpus" "$found"
dictionary=
[ -f "$here/dictionaries/$target" ] && dictionary=-dict=$here/dictionaries/$target
more=
case $target in
script) more="$here/../scripts/examples $here/../scripts/recipes" length=8000 wait=60 ;;
dxf | svg) length=60000 wait=20 ;;
survey | readings) more= length=12000 wait=60 ;;
*) length=400 wait=60 ;;
esac
kept=
[ -d "$here/../fixtures/found/$target" ] && kept=$here/../fixtures/found/$target
# shellcheck disable=SC2086
"$binaries/$target" $dictionary -max_len=$length -timeout=$wait -rss_limit_mb=300 -max_total_time="$seconds" \
    -print_final_stats=1 -artifact_prefix="$found/" "$corpus" "$here/seeds/$target" $more $kept
