"""Writes reports/speed.md, every figure of it: python3 tests/bench/speed.py [--repeats N]

Builds the binary and what it is held against, makes the photographs, and runs everything on this machine: some fifteen
minutes, while nothing else should. Needs Linux. SEAMSTEP_PYTHON names an interpreter that has numpy, scikit-image and
opencv-python-headless, where python3 has not.
"""

import argparse
import collections
import json
import os
import pathlib
import platform
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
TARGET = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release"
SEAMSTEP, DECODE = TARGET / "seamstep", TARGET / "examples" / "decode"
PYTHON, JOB = os.environ.get("SEAMSTEP_PYTHON", "python3"), ROOT / "tests" / "bench" / "job.py"
BIG = ROOT / "fixtures" / "big-00.jpg"

# What is aimed at: at most so many decodings, at least so many times faster than the job, at most so many times the pixels.
MOST_DECODES, LEAST_JOBS, MOST_MEMORY = 2.5, 3.0, 3.5

# The rooms of one walk as the benchmark calls them, in its order.
WALK = ["photo", "sharpness", "scale", "seam_given", "strip", "lines", "offset", "verdict", "remedy", "text"]
BESIDE = ["seam_found", "json", "picture", "page", "whole_given", "whole_found"]

# Twice as wide and as high, by a library, in a process of its own: what this one holds would count in its children's peak.
ENLARGE = """
import cv2, sys
picture = cv2.imread(sys.argv[1])
cv2.imwrite(sys.argv[2], cv2.resize(picture, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC), [cv2.IMWRITE_JPEG_QUALITY, 92])
"""

Run = collections.namedtuple("Run", "wall_s cpu_s peak_mb answer")
Photograph = collections.namedtuple("Photograph", "file seam_px size_px")


def run(*command):
    """One whole process: its time by the clock, its time of the cores, its peak of memory, and what it printed."""
    with tempfile.TemporaryFile() as out:
        begun = time.monotonic()
        process = subprocess.Popen([str(word) for word in command], stdout=out)
        _, status, used = os.wait4(process.pid, 0)
        wall_s = time.monotonic() - begun
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        return Run(wall_s, used.ru_utime + used.ru_stime, used.ru_maxrss * 1024 / 1e6, out.read())


def points(seam_px):
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in seam_px)


def enlarged(photograph, folder):
    file = folder / "large.jpg"
    subprocess.run([PYTHON, "-c", ENLARGE, photograph.file, file], check=True)
    # A pixel's middle is whole: its place is doubled from the picture's edge, half a pixel aside.
    seam_px = [[2 * x + 0.5, 2 * y + 0.5] for x, y in photograph.seam_px]
    return Photograph(file, seam_px, [2 * side for side in photograph.size_px])


def programs(photograph):
    seam = points(photograph.seam_px)
    check = [SEAMSTEP, "check", photograph.file, "--json"]
    return {
        "decode": [DECODE, photograph.file],
        "check, seam given": [*check, "--seam", seam],
        "check, seam found": check,
        "Python job": [PYTHON, JOB, photograph.file, seam],
    }


def alternating(commands, repeats):
    """Every command so many times, in turn; a first round is not counted."""
    runs = {name: [] for name in commands}
    for turn in range(repeats + 1):
        for name, command in commands.items():
            one = run(*command)
            if not one.answer.strip() or b'"refused": {' in one.answer:
                sys.exit(f"{name} gave no answer: {command}")
            if turn:
                runs[name].append(one)
    return runs


def least(runs, figure):
    return min(getattr(one, figure) for one in runs)


def median(runs, figure):
    return statistics.median(getattr(one, figure) for one in runs)


def table(head, rows):
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in line) + " |" for line in lines) + "\n"


def seconds(value):
    return f"{value:.2f}" if value >= 1 else f"{value:.3f}"


def times_table(runs):
    rows = []
    for name, all_of_it in runs.items():
        figures = [least(all_of_it, "wall_s"), median(all_of_it, "wall_s"), median(all_of_it, "cpu_s")]
        rows.append([name, *map(seconds, figures), f"{max(one.peak_mb for one in all_of_it):.0f}"])
    return table(["whole process", "clock, least s", "clock, median s", "cores, median s", "peak MB"], rows)


def aims(runs, size_px):
    """Each ratio beside what is aimed at: by the least and the median of the clock, and by the median of the cores."""
    pixels_mb = 3 * size_px[0] * size_px[1] / 1e6
    rows = []

    def row(what, ratios, most=None, at_least=None):
        held = all(ratio <= most for ratio in ratios) if most else all(ratio >= at_least for ratio in ratios)
        aim = f"at most {most}" if most else f"at least {at_least}"
        rows.append([what, " / ".join(f"{ratio:.2f}" for ratio in ratios), aim, "yes" if held else "no"])

    def times(name):
        return [least(runs[name], "wall_s"), median(runs[name], "wall_s"), median(runs[name], "cpu_s")]

    for seam in ("given", "found"):
        check = times(f"check, seam {seam}")
        row(f"check, seam {seam}, to decode", [a / b for a, b in zip(check, times("decode"))], most=MOST_DECODES)
        row(f"Python job to check, seam {seam}", [b / a for a, b in zip(check, times("Python job"))], at_least=LEAST_JOBS)
    for seam in ("given", "found"):
        peak = max(one.peak_mb for one in runs[f"check, seam {seam}"])
        row(f"peak to the {pixels_mb:.0f} MB of pixels, seam {seam}", [peak / pixels_mb], most=MOST_MEMORY)
    return table(["ratio", "clock, least / clock, median / cores, median", "aim", "held"], rows)


def job_parts(runs):
    """What the Python job spent on what, medians."""
    said = [json.loads(one.answer)["seconds"] for one in runs]
    return ", ".join(f"{part} {statistics.median(of[part] for of in said):.2f} s" for part in said[0])


def on_cores(photograph, repeats):
    """Check on one core and on all of them, and a folder by one thread and by all."""
    cores = os.sched_getaffinity(0)
    commands = {name: command for name, command in programs(photograph).items() if name.startswith("check")}
    rows, count = [], len(cores)
    for some in ({min(cores)}, cores):
        os.sched_setaffinity(0, some)
        for name, all_of_it in alternating(commands, repeats).items():
            told = [seconds(least(all_of_it, "wall_s")), seconds(median(all_of_it, "cpu_s"))]
            rows.append([f"{name}, on {len(some)} of {count} cores", *told, f"{max(o.peak_mb for o in all_of_it):.0f}"])
    os.sched_setaffinity(0, cores)
    with tempfile.TemporaryDirectory() as folder:
        # Copies are told apart by a byte after the picture's end, so that each is measured.
        for number in range(12):
            pathlib.Path(folder, f"{number}.jpg").write_bytes(photograph.file.read_bytes() + bytes([number]))
        for threads in dict.fromkeys([1, count]):
            lot = run(SEAMSTEP, "lot", folder, "--threads", threads, "--json")
            name = f"lot of twelve, {threads} thread{'s'[: threads > 1]}"
            rows.append([name, seconds(lot.wall_s), seconds(lot.cpu_s), f"{lot.peak_mb:.0f}"])
    return table(["whole process", "clock, least s", "cores, median s", "peak MB"], rows)


def errors():
    """How near the truth both are on the same photographs with the same seam given, means of the offset in millimetres."""
    truths = json.loads((ROOT / "fixtures" / "truth.json").read_text())
    found, unread = {"check, seam given": [], "Python job": []}, collections.Counter()
    for name, truth in truths.items():
        if not truth.get("card_mm") or "offset_mean_mm" not in truth:
            continue
        commands = programs(Photograph(ROOT / "fixtures" / f"{name}.jpg", truth["seam_px"], truth["size"]))
        for program, wrong in found.items():
            try:
                answer = json.loads(run(*commands[program]).answer)
                offset = answer["offset_mm"] if program == "Python job" else answer["offset"]["mean_mm"]
            except (ValueError, KeyError, TypeError):
                unread[program] += 1
                continue
            error, repeat = offset - truth["offset_mean_mm"], truth["repeat_mm"][0]
            wrong.append(abs(error - repeat * round(error / repeat)))
    rows = []
    for program, wrong in found.items():
        tenths = statistics.quantiles(wrong, n=10)
        rows.append([program, len(wrong), unread[program], f"{statistics.median(wrong):.3f}", f"{tenths[8]:.3f}"])
    return table(["", "answered", "not answered", "error, median mm", "error, nine of ten mm"], rows)


def rooms():
    """The medians that the rooms' benchmark prints: {group: {room: {argument: seconds}}}."""
    command = ["cargo", "bench", "--quiet", "--bench", "rooms"]
    printed = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True).stdout
    units = {"ns": 1e-9, "µs": 1e-6, "ms": 1e-3, "s": 1.0}
    told, names = {}, []
    for line in printed.splitlines():
        branch = re.match(r"([│ ]*)[├╰]─ (\S+)\s+(.*)", line)
        if not branch:
            continue
        depth, cells = len(branch[1]) // 3, branch[3].split("│")
        names = [*names[:depth], branch[2]]
        if depth == 2:
            value, unit = cells[2].split()
            group, room, argument = names
            told.setdefault(group, {}).setdefault(room, {})[int(argument)] = float(value) * units[unit]
    return told


def milliseconds(value):
    return f"{1e3 * value:.1f}" if value >= 1e-4 else f"{1e3 * value:.4f}"


def shares(by_size):
    """Each room's share of one walk at 12 megapixels, the seam given and found."""
    given = {room: by_size[room][12] for room in WALK}
    found = {("seam_found" if room == "seam_given" else room): by_size[room][12] for room in WALK}
    found["seam_found"] = by_size["seam_found"][12]
    rows = []
    for room in [*WALK, "seam_found"]:
        row = [room.replace("_", ", ")]
        for walk in (given, found):
            row += [milliseconds(walk[room]), f"{100 * walk[room] / sum(walk.values()):.1f} %"] if room in walk else ["", ""]
        rows.append(row)
    sums = [cell for walk in (given, found) for cell in (milliseconds(sum(walk.values())), "100 %")]
    return table(["room", "seam given, ms", "share", "seam found, ms", "share"], [*rows, ["sum", *sums]])


def floor(measured):
    """What is spent beside decoding, what it would be were no core ever idle, and what the aim has room for."""
    cores = len(os.sched_getaffinity(0))
    rows = []
    for size, runs in measured.items():
        decode = least(runs["decode"], "wall_s")
        for seam in ("given", "found"):
            check = runs[f"check, seam {seam}"]
            beside = least(check, "wall_s") - decode
            busy = (median(check, "cpu_s") - decode) / cores
            rows.append([f"{size}, seam {seam}", *map(milliseconds, (decode, beside, busy, (MOST_DECODES - 1) * decode))])
    columns = ["decode", "all else", f"all else, were {cores} cores always busy", f"all else, at {MOST_DECODES} times the decoding"]
    return table(["ms", *columns], rows)


def growth(group, names, unit):
    arguments = sorted(next(iter(group.values())))
    rows = [[name.replace("_", ", "), *(milliseconds(group[name][a]) for a in arguments)] for name in names]
    return table(["ms", *(f"{argument} {unit}" for argument in arguments)], rows)


def machine():
    model = re.search(r"model name\s*:\s*(.*)", pathlib.Path("/proc/cpuinfo").read_text())
    versions = "import cv2, numpy, skimage; print(f'OpenCV {cv2.__version__}, numpy {numpy.__version__}, scikit-image {skimage.__version__}')"
    libraries = subprocess.run([PYTHON, "-c", versions], check=True, stdout=subprocess.PIPE, text=True).stdout.strip()
    compiler = subprocess.run(["rustc", "--version"], check=True, stdout=subprocess.PIPE, text=True).stdout.split()[1]
    cores = len(os.sched_getaffinity(0))
    return (
        f"{cores} cores ({model[1] if model else platform.machine()}), Rust {compiler}, Python {platform.python_version()}, {libraries}. "
        f"Before it began, {os.getloadavg()[0]:.1f} other processes wanted a core (the system's average of a minute)"
    )


def main():
    parser = argparse.ArgumentParser(description="Writes reports/speed.md.")
    parser.add_argument("--repeats", type=int, default=9, help="runs of every program that count")
    parser.add_argument("--out", type=pathlib.Path, default=ROOT / "reports" / "speed.md")
    asked = parser.parse_args()
    subprocess.run(["cargo", "build", "--release", "--bins", "--example", "decode"], cwd=ROOT, check=True)
    here = machine()
    truth = json.loads((ROOT / "fixtures" / "truth.json").read_text())["big-00"]
    with tempfile.TemporaryDirectory() as folder:
        big = Photograph(BIG, truth["seam_px"], truth["size"])
        photographs = {"12 megapixels": big, "48 megapixels": enlarged(big, pathlib.Path(folder))}
        measured = {size: alternating(programs(photograph), asked.repeats) for size, photograph in photographs.items()}
        cores = on_cores(big, asked.repeats)
    told = rooms()
    parts = [PREFACE.format(here=here, repeats=asked.repeats, binary_mb=SEAMSTEP.stat().st_size / 1e6)]
    for size, runs in measured.items():
        parts.append(f"## {size}\n\n{times_table(runs)}\n{aims(runs, photographs[size].size_px)}")
        parts.append(f"The Python job's parts, medians: {job_parts(runs['Python job'])}.\n")
    parts.append(f"## How near both come to the truth\n\n{ERRORS}\n{errors()}")
    parts.append(f"## One core and all\n\n{cores}")
    parts.append(f"## Where the time goes\n\n{ROOMS}\n{shares(told['by_size'])}")
    parts.append(f"The floor: decoding is one thread's work, and begins and ends before all else.\n\n{floor(measured)}")
    parts.append(f"By the picture's size:\n\n{growth(told['by_size'], [*WALK, *BESIDE], 'MP')}")
    parts.append(f"By the seam's length, on one photograph of 2.6 megapixels and 0.2 mm to a pixel:\n\n{growth(told['by_length'], ['strip', 'lines', 'offset', 'whole_given'], 'mm')}")
    asked.out.write_text("\n".join(parts), encoding="utf-8")
    print(f"wrote {asked.out}")


PREFACE = """# How fast it is

Every figure here was measured by `python3 tests/bench/speed.py`, which writes this page.

## How it was measured

On {here}.

The photographs are `fixtures/big-00.jpg` (4032 by 3024 pixels, a card) and the same enlarged to twice its width and height by OpenCV (bicubic, JPEG quality 92). Four programs are timed as whole processes, from their start to
their end, in turn, {repeats} times each after a round that does not count:

- *decode*: the `image` crate alone, the file to RGB pixels of 8 bits (`tests/bench/decode.rs`). Nothing that measures a
  photograph can take less.
- *check, seam given* and *check, seam found*: `seamstep check --json`, as released.
- *Python job*: the same measurement as a competent user would put it together from OpenCV and scikit-image, the seam given
  (`tests/bench/job.py`). It starts its libraries as such a program does; its parts are told apart below.

Clock is the time that passes, cores the time that all cores together spent (user and system), peak the largest resident
memory. An aim is held when all of its ratios hold it. The binary has {binary_mb:.1f} MB.
"""

ERRORS = """The mean offset against the truth on every photograph of `fixtures/` that has a card and an offset, the seam given to both.
Errors are taken within a repeat. The job reads the card's corners to about a pixel, weighs grey alone and knows no slope.
"""

ROOMS = """Each room alone, in one process, handed what the rooms before it made (`cargo bench --bench rooms`; medians).
"""

if __name__ == "__main__":
    if not shutil.which("cargo"):
        sys.exit("cargo is not there")
    main()
