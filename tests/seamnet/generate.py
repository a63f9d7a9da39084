"""Pictures of seams in striped, checked and plaid cloth, drawn in whole batches; no photograph is read.

Generator(device).batch(count, height, width) returns
  image  [B,3,H,W]      0..1, sRGB
  label  [B,2,H/2,W/2]  0..1, a soft line on each seam; map 0 for seams that run down, map 1 for those across
  weight [B,1,H/2,W/2]  how much each place counts: less at pocket edges, where the truth is a matter of taste

Everything is in pixels of a picture whose long side is 640. `python generate.py SHEET.png [SEED]` draws a sheet.
"""
import random
import sys

import torch
import torch.nn.functional as F

from camera import Camera
from cloth import Cloth, print_motif
from clutter import add_clutter, light
from layout import lay_out
from scene import Scene
from seams import draw_seams

SCENE_HEIGHT, SCENE_WIDTH = 480, 640


class Generator:
    def __init__(self, device, seed=0, batches_at_once=1, views=1):
        torch.manual_seed(seed)
        random.seed(seed)
        self.device = device
        self.camera = Camera(device)
        self.batches_at_once = batches_at_once  # more scenes at once are quicker on a GPU
        self.views = views  # how often each scene is photographed, cut and mirrored anew
        self.waiting = []

    @torch.no_grad()
    def batch(self, count, height, width):
        """Scenes are drawn at one size, then cut, mirrored, turned by a right angle and photographed."""
        tall = height > width
        if not self.waiting:
            drawn = self._draw(count * self.batches_at_once)
            self.waiting = list(zip(*(maps.split(count) for maps in drawn))) * self.views
            random.shuffle(self.waiting)
        image, label, weight = self.waiting.pop()
        short = min(height, width)
        if short < SCENE_HEIGHT:
            first = random.randint(0, (SCENE_HEIGHT - short) // 2)
            image = image[:, :, 2 * first : 2 * first + short]
            half = slice(first, first + short // 2)
            label, weight = label[:, :, half], weight[:, :, half]
        for axis in (2, 3):
            if random.random() < 0.5:
                image, label, weight = image.flip(axis), label.flip(axis), weight.flip(axis)
        if tall:
            image, weight = image.transpose(2, 3), weight.transpose(2, 3)
            label = label.transpose(2, 3).flip(1)
        return self.camera.photograph(image.contiguous()), label, weight

    def _draw(self, count):
        scene = Scene(count, SCENE_HEIGHT, SCENE_WIDTH, self.device)
        scene.cloth = Cloth(scene.draws)
        lay_out(scene)
        scene.image = scene.cloth.colour_at(scene.u, scene.v, scene.other)
        for part in scene.some(0.12):
            print_motif(part)
        draw_seams(scene)
        scene.image = scene.image * torch.exp(scene.shade.clamp(-2.2, 0.8))[:, None]
        add_clutter(scene)
        light(scene)
        label = scene.label * scene.visible[:, None]
        label = 0.5 * F.max_pool2d(label, 2) + 0.5 * F.avg_pool2d(label, 2)
        weight = -F.max_pool2d(-scene.weight[:, None], 2)
        return scene.image, label, weight


def sheet(path, seed):
    """24 pictures, each beside itself with the truth in red (down) and blue (across)."""
    import cv2
    import numpy as np

    generator = Generator("cuda" if torch.cuda.is_available() else "cpu", seed)
    image, label, _ = generator.batch(24, 480, 640)
    label = F.interpolate(label, scale_factor=2, mode="nearest")
    marked = image.clone()
    marked[:, 0] = torch.maximum(marked[:, 0], label[:, 0])
    marked[:, 2] = torch.maximum(marked[:, 2], label[:, 1])
    pairs = torch.cat((image, marked), 3).permute(0, 2, 3, 1)[:, ::2, ::2]
    pairs = (pairs * 255).byte().cpu().numpy()
    rows = [np.hstack(pairs[i : i + 3]) for i in range(0, 24, 3)]
    cv2.imwrite(path, np.vstack(rows)[..., ::-1])


if __name__ == "__main__":
    sheet(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 1)
