#!/bin/sh
# How much faster two threads are than one, and the memory they take: speed.sh SEAMSTEP PHOTOGRAPH
#
# Twelve copies of the photograph, told apart by a byte after the picture's end, so that each is measured.
set -eu
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT
for number in 1 2 3 4 5 6 7 8 9 10 11 12; do
  { cat "$2"; printf '%s' "$number"; } > "$folder/$number.jpg"
done
for threads in 1 2; do
  python3 - "$1" "$folder" "$threads" <<'PYTHON'
import os, resource, subprocess, sys, time

binary, folder, threads = sys.argv[1:]
begun = time.monotonic()
subprocess.run([binary, "lot", folder, "--threads", threads, "--json"], stdout=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(f"{threads} threads: {time.monotonic() - begun:.1f} s, {used.ru_utime:.1f} s of the cores, {used.ru_maxrss / 1024:.0f} MB at most")
PYTHON
done
