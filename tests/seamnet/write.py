"""Writes drawn cloth as files, for fitting the confidence: python write.py FOLDER COUNT [SEED]

NUMBER.png is a picture and NUMBER.truth.png its truth at half the size: red where a seam runs down, green where one runs
across. The seed is none that a training starts from.
"""
import pathlib
import sys

import cv2
import numpy as np

from generate import Generator

SHAPES = ((480, 640), (640, 480), (352, 640), (640, 352))
AT_ONCE = 8


def main(folder, count, seed=999_983):
    folder = pathlib.Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    generator = Generator("cpu", int(seed))
    for first in range(0, int(count), AT_ONCE):
        height, width = SHAPES[first // AT_ONCE % len(SHAPES)]
        images, labels, _ = generator.batch(AT_ONCE, height, width)
        for k, (image, label) in enumerate(zip(images, labels)):
            rgb = (image.permute(1, 2, 0).numpy() * 255).round().astype(np.uint8)
            truth = np.zeros((height // 2, width // 2, 3), np.uint8)
            truth[:, :, :2] = (label.permute(1, 2, 0).numpy() * 255).round()
            for name, pixels in ((f"{first + k:04}.png", rgb), (f"{first + k:04}.truth.png", truth)):
                cv2.imwrite(str(folder / name), cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))


if __name__ == "__main__":
    main(*sys.argv[1:])
