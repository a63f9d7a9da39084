"""What reference libraries say of the shift between stripes that the Rust test tests/libraries.rs writes out.

    cargo test --release --test libraries
    python3 tests/libraries/shifts.py target/tmp/stripes.json --store tests/libraries/stored.json

Needs numpy and scikit-image; OpenCV (opencv-python-headless) is used when it is there. Takes a JSON list of {name, first,
second} and prints, or stores, the displacement of the second of each pair against the first, samples, as it comes: not
wrapped into a repeat.
"""

import json
import pathlib
import sys

import numpy
import skimage
from skimage.registration import phase_cross_correlation

try:
    import cv2
except ImportError:
    cv2 = None

UPSAMPLE = 1000


def displacements(pair):
    first, second = (numpy.array(pair[side]) - numpy.mean(pair[side]) for side in ("first", "second"))
    # scikit-image returns the shift that registers the second onto the first: minus its displacement.
    shift, _, _ = phase_cross_correlation(first, second, upsample_factor=UPSAMPLE, normalization=None)
    found = {"scikit-image": -float(shift[0])}
    if cv2:
        (dx, _), _ = cv2.phaseCorrelate(numpy.tile(first, (8, 1)), numpy.tile(second, (8, 1)))
        found["OpenCV"] = dx
    return found


def main(stripes, store=None):
    versions = {"numpy": numpy.__version__, "scikit-image": skimage.__version__}
    if cv2:
        versions["OpenCV"] = cv2.__version__
    pairs = json.loads(pathlib.Path(stripes).read_text())
    found = {pair["name"]: displacements(pair) for pair in pairs}
    said = {"versions": versions, "upsample": UPSAMPLE, "displacement": found}
    text = json.dumps(said, indent=1) + "\n"
    if store:
        pathlib.Path(store).write_text(text)
    else:
        sys.stdout.write(text)


if __name__ == "__main__":
    arguments = [argument for argument in sys.argv[1:] if argument != "--store"]
    main(*arguments)
