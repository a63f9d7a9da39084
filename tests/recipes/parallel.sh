#!/bin/sh
# A folder's photographs measured by GNU parallel, a few to each process: parallel.sh FOLDER LINES.jsonl
#
# SEAMSTEP names the binary. With --sshlogin the processes run on other machines, which then need the folder at the same path.
set -eu
find "$1" -maxdepth 1 -name '*.jpg' | sort | parallel --will-cite --pipe -N 4 "${SEAMSTEP:-seamstep}" lot --jsonl --threads 1 > "$2"
