#!/bin/sh
# A folder's photographs measured by GNU parallel, a few to each process: parallel.sh FOLDER LINES.jsonl [OPTIONS of lot]
#
# SEAMSTEP names the binary. With --sshlogin the processes run on other machines, which then need the folder at the same path.
set -eu
folder=$1 lines=$2
shift 2
find "$folder" -maxdepth 1 -name '*.jpg' |
  parallel --will-cite --quote --pipe -N 4 "${SEAMSTEP:-seamstep}" lot --jsonl --threads 1 "$@" > "$lines"
