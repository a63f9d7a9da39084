"""What general-purpose registration leaves on photographs of seams when it is given the exact geometry.

    python3 tests/libraries/photographs.py fixtures > tests/libraries/figures.json

Needs numpy, scikit-image and opencv-python-headless. The folder holds photographs and truth.json, as DEVELOPERS.md tells.
Each side is straightened along the true seam, averaged across v from 1.5 mm (and half a gap) to 12 mm from it, and the two
profiles along u are registered. The difference is wrapped into a repeat; the error is that of the mean offset, mm.
"""

import json
import pathlib
import sys

import cv2
import numpy
import scipy
import skimage
from PIL import Image, ImageOps
from scipy.ndimage import map_coordinates
from skimage.registration import phase_cross_correlation

NEAREST_MM, FURTHEST_MM = 1.5, 12.0


def wrapped(value, period):
    return value - period * numpy.round(value / period)


def luminance(path):
    """Linear luminance of the upright picture (IEC 61966-2-1)."""
    with Image.open(path) as picture:
        code = numpy.asarray(ImageOps.exif_transpose(picture).convert("RGB"), dtype=float) / 255.0
    linear = numpy.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return linear @ [0.2126, 0.7152, 0.0722]


def sides(picture, truth):
    """The two sides' profiles along u, first and second, a sample every mm_per_px."""
    step = truth["mm_per_px"]
    rows = numpy.array(truth["profile"])
    u = numpy.arange(rows[0, 0], rows[-1, 0], step)
    x, y = numpy.interp(u, rows[:, 0], rows[:, 1]), numpy.interp(u, rows[:, 0], rows[:, 2])
    along = numpy.stack([numpy.gradient(x), numpy.gradient(y)])
    along /= numpy.hypot(*along)
    near = NEAREST_MM + (truth.get("gap_mm") or 0.0) / 2
    v = numpy.arange(near, FURTHEST_MM + near, step) / step
    for side in (-1, 1):
        away = side * v[:, None]
        # v > 0 is to the right of a seam that runs down and above one that runs across.
        values = map_coordinates(picture, [y - away * along[0], x + away * along[1]], order=1, mode="nearest")
        profile = values.mean(axis=0)
        yield profile - profile.mean()


def offsets_mm(first, second, truth):
    step, repeat = truth["mm_per_px"], truth["repeat_mm"][0]
    shift, _, _ = phase_cross_correlation(first, second, upsample_factor=1000, normalization=None)
    # A picture of eight equal rows: phaseCorrelate wants two dimensions.
    (dx, _), _ = cv2.phaseCorrelate(numpy.tile(first, (8, 1)), numpy.tile(second, (8, 1)))
    # scikit-image returns what registers the second onto the first: minus its displacement.
    return {"scikit-image": wrapped(-shift[0] * step, repeat), "OpenCV": wrapped(dx * step, repeat)}


def summary(errors):
    errors = numpy.abs(errors)
    return {
        "photographs": len(errors),
        "median_mm": round(float(numpy.median(errors)), 4),
        "p90_mm": round(float(numpy.percentile(errors, 90)), 4),
    }


def main(folder):
    errors = {}
    for name, truth in json.loads((folder / "truth.json").read_text()).items():
        if "profile" not in truth or not truth.get("repeat_mm"):
            continue
        first, second = sides(luminance(folder / f"{name}.jpg"), truth)
        for library, offset in offsets_mm(first, second, truth).items():
            error = float(wrapped(offset - truth["offset_mean_mm"], truth["repeat_mm"][0]))
            errors.setdefault(library, {}).setdefault(truth["tag"], []).append(error)
    figures = {
        library: {
            "all": summary([error for family in families.values() for error in family]),
            "families": {tag: summary(family) for tag, family in sorted(families.items())},
        }
        for library, families in errors.items()
    }
    versions = {"numpy": numpy.__version__, "scipy": scipy.__version__, "scikit-image": skimage.__version__}
    versions["OpenCV"] = cv2.__version__
    json.dump({"versions": versions, "error_of_the_mean": figures}, sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main(pathlib.Path(sys.argv[1]))
