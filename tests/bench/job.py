"""The measurement as general-purpose libraries do it: job.py PHOTOGRAPH "X,Y X,Y ..." prints JSON.

Needs numpy, scikit-image and opencv-python-headless. The points are the seam's in the upright picture, pixels, and the card
must be in sight. The card's corners give the homography; each side is straightened along the seam and averaged across it
from 1.5 to 12 mm; window by window the two profiles are registered. Offsets are signed as everywhere here: positive when
the right side is lower, or the upper side further right.
"""

import json
import re
import sys
import time

begun = time.perf_counter()

import cv2
import numpy as np
from skimage.registration import phase_cross_correlation

NEAREST_MM, FURTHEST_MM = 1.5, 12.0
REPEATS_MM = 2.0, 90.0
LEAST_WINDOW_MM = 40.0
UPSAMPLE = 100


def to_the_card(picture):
    """The map from the picture to millimetres, from the printed card's corners."""
    text, corners, _ = cv2.QRCodeDetector().detectAndDecode(picture)
    said = re.fullmatch(r"seamstep:(\d+(?:\.\d+)?)", text)
    if not said:
        sys.exit("no scale card was read")
    side = float(said[1])
    square = np.float32([[0, 0], [side, 0], [side, side], [0, side]])
    return cv2.getPerspectiveTransform(corners.reshape(4, 2), square)


def moved(points, matrix):
    return cv2.perspectiveTransform(np.asarray(points, float).reshape(1, -1, 2), matrix)[0]


def profiles(picture, to_mm, seam_px, step):
    """The two sides' grey profiles along the seam, first and second, a sample every `step` millimetres."""
    seam = moved(seam_px, to_mm)
    lengths = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(seam, axis=0).T))])
    u = np.arange(0, lengths[-1], step)
    x, y = (np.interp(u, lengths, seam[:, axis]) for axis in (0, 1))
    along = np.stack([np.gradient(x), np.gradient(y)])
    along /= np.hypot(*along)
    v = np.arange(NEAREST_MM, FURTHEST_MM, step)[:, None]
    to_px = np.linalg.inv(to_mm)
    # v > 0 is to the right of a seam that runs down the picture and above one that runs across it.
    for side in (-1, 1):
        at = np.stack([x + side * v * along[1], y - side * v * along[0]], axis=-1)
        at = moved(at, to_px).reshape(at.shape).astype(np.float32)
        strip = cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_CUBIC)
        yield cv2.cvtColor(strip, cv2.COLOR_BGR2GRAY).mean(axis=0, dtype=float)


def repeat_mm(profile, step):
    """The strongest period of a profile, from its spectrum's peak."""
    count = 8 * len(profile)
    power = np.abs(np.fft.rfft((profile - profile.mean()) * np.hanning(len(profile)), count)) ** 2
    frequency = np.fft.rfftfreq(count, step)
    power[(frequency < 1 / REPEATS_MM[1]) | (frequency > 1 / REPEATS_MM[0])] = 0
    peak = int(np.argmax(power))
    before, at, after = np.log(power[peak - 1 : peak + 2] + 1e-12)
    return 1 / (frequency[1] * (peak + 0.5 * (before - after) / (before - 2 * at + after)))


def wrapped(value, period):
    return value - period * np.round(value / period)


def main(file, points):
    ready = time.perf_counter()
    picture = cv2.imread(file, cv2.IMREAD_COLOR)
    if picture is None:
        sys.exit(f"{file} cannot be read as a picture")
    decoded = time.perf_counter()
    seam_px = [[float(x) for x in point.split(",")] for point in points.split()]
    to_mm = to_the_card(picture)
    scaled = time.perf_counter()
    middle = seam_px[len(seam_px) // 2]
    step = float(np.hypot(*np.diff(moved([middle, [middle[0], middle[1] + 1]], to_mm), axis=0)[0]))
    first, second = profiles(picture, to_mm, seam_px, step)
    repeat = repeat_mm(first, step)
    window = min(len(first), round(max(LEAST_WINDOW_MM, 2 * repeat) / step))
    taper = np.hanning(window)
    offsets = []
    for start in range(0, len(first) - window + 1, max(1, window // 2)):
        a, b = ((side - side.mean()) * taper for side in (side[start : start + window] for side in (first, second)))
        shift, _, _ = phase_cross_correlation(a, b, upsample_factor=UPSAMPLE, normalization=None)
        # It returns what registers the second onto the first: minus its displacement.
        offsets.append(-shift[0] * step)
    # Offsets are known within a repeat: they are put beside their mean as angles before they are averaged.
    middle = repeat * np.angle(np.exp(2j * np.pi * np.array(offsets) / repeat).mean()) / (2 * np.pi)
    offsets = middle + wrapped(offsets - middle, repeat)
    answer = {
        "repeat_mm": repeat,
        "offset_mm": float(wrapped(np.mean(offsets), repeat)),
        "spread_mm": float(np.std(offsets, ddof=1)) if len(offsets) > 1 else None,
        "windows": len(offsets),
        "mm_per_px": step,
        "seconds": {
            "libraries": ready - begun,
            "decoding": decoded - ready,
            "card": scaled - decoded,
            "the rest": time.perf_counter() - scaled,
        },
    }
    print(json.dumps(answer))


if __name__ == "__main__":
    main(*sys.argv[1:])
