"""Scores a network on marked photographs and rendered ones: python score.py NET.onnx [--garments DIR] [--corpus DIR]

A line is right on a garment when it passes within 6 pixels of the middle of the mark, in its direction. A folder of
garments holds seams.json and noseam.json; one of rendered pictures holds truth.json, and a line is right there when
its median distance from the true seam is at most 1.5 mm. The middle of a zip's gap is its true seam; best lines as near
to one of its two folds are counted apart.
"""
import argparse
import json
import os

import cv2
import numpy as np
import onnxruntime

from finder import find

RIGHT_PX, RIGHT_MM = 6.0, 1.5


def read(path):
    picture = cv2.imread(path)
    if picture is None:
        raise SystemExit(f"cannot read {path}")
    return cv2.cvtColor(picture, cv2.COLOR_BGR2RGB)


def distances(points, line):
    """Distance of each point from a polyline."""
    line = np.asarray(line, float)
    start, way = line[:-1], np.diff(line, axis=0)
    from_start = points[:, None] - start[None]
    share = ((from_start * way).sum(2) / np.maximum((way * way).sum(1), 1e-9)).clip(0, 1)
    return np.linalg.norm(from_start - share[..., None] * way, axis=2).min(1)


def middle_of(line):
    line = np.asarray(line, float)
    lengths = np.concatenate(([0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))))
    half = lengths[-1] / 2
    return np.array([np.interp(half, lengths, line[:, 0]), np.interp(half, lengths, line[:, 1])])


def score_garments(session, folder, verbose):
    seams = json.load(open(os.path.join(folder, "seams.json")))
    best = among = 0
    for seam in seams:
        lines = find(session, read(os.path.join(folder, seam["file"])))[:3]
        middle = middle_of(seam["seam_px"])[None]
        right = [
            line["runs"] == seam["runs"] and distances(middle, line["points"])[0] <= RIGHT_PX for line in lines
        ]
        best += bool(right[:1] and right[0])
        among += any(right)
        if verbose:
            place = right.index(True) + 1 if any(right) else "-"
            print(f"  {seam['id']:8} {seam['runs']:7} {seam['kind']:28} right line: {place}")
    print(f"garments: best line right {best} of {len(seams)}, one of the three best {among}")
    for crop in json.load(open(os.path.join(folder, "noseam.json"))):
        lines = find(session, read(os.path.join(folder, crop["file"])))
        said = f"score {lines[0]['score']:.0f}, mean {lines[0]['mean']:.2f}" if lines else "no line"
        print(f"  without a seam: {crop['file']:20} {said}")


def score_corpus(session, folder, verbose):
    truth = json.load(open(os.path.join(folder, "truth.json")))
    families, best_off, on_fold = {}, [], 0
    for name, row in truth.items():
        if not row.get("mm_per_px"):
            continue
        lines = find(session, read(os.path.join(folder, name + ".jpg")))[:3]
        off = [np.median(distances(line["points"], row["seam_px"])) * row["mm_per_px"] for line in lines]
        good = [distance <= RIGHT_MM for distance in off]
        family = families.setdefault(row["tag"], [0, 0, 0])
        family[0] += bool(good and good[0])
        family[1] += any(good)
        family[2] += 1
        if good and good[0]:
            best_off.append(off[0])
            continue
        on_fold += bool(off and abs(off[0] - row["gap_mm"] / 2) <= RIGHT_MM)
        if verbose:
            print(f"  {name}: off by {', '.join(f'{distance:.1f}' for distance in off) or 'nothing'} mm")
    total = np.array(list(families.values())).sum(0)
    print(f"corpus: best line right {total[0]} of {total[2]}, one of the three best {total[1]}")
    print(f"  {on_fold} more lie on one fold of a zip")
    if best_off:
        middle, high = np.percentile(best_off, (50, 90))
        print(f"  where right: median {middle:.2f} mm, 90th percentile {high:.2f} mm")
    print("  " + ", ".join(f"{tag} {a}/{n}" for tag, (a, _, n) in families.items()))


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("net")
    options.add_argument("--garments")
    options.add_argument("--corpus")
    options.add_argument("-v", "--verbose", action="store_true")
    options = options.parse_args()
    session = onnxruntime.InferenceSession(options.net)
    if options.garments:
        score_garments(session, options.garments, options.verbose)
    if options.corpus:
        score_corpus(session, options.corpus, options.verbose)


if __name__ == "__main__":
    main()
