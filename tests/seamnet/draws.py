"""Random draws for a whole batch of pictures, and the curves and soft fields made from them.

A draw has one value a picture, shaped [B,1,1], so that it meets maps [B,H,W] without more ado.
"""
import math

import torch
import torch.nn.functional as F

TURN = 2 * math.pi
UNIFORMS, NORMALS = 900, 200  # more than one scene uses


class Draws:
    """Draws for a batch of `count` pictures of `height` x `width` pixels on one device."""

    def __init__(self, count, height, width, device):
        self.count, self.height, self.width, self.device = count, height, width, device
        self.long_side = float(max(height, width))
        # One draw a picture is wanted many hundred times: they are made together and handed out in turn.
        self._uniforms = torch.rand((UNIFORMS, count, 1, 1), device=device)
        self._normals = torch.randn((NORMALS, count, 1, 1), device=device)
        self._uniforms_used = self._normals_used = 0

    def for_part(self, count):
        return Draws(count, self.height, self.width, self.device)

    def _share(self, shape):
        if shape:
            return torch.rand(shape, device=self.device)
        self._uniforms_used += 1
        return self._uniforms[self._uniforms_used - 1]

    def uniform(self, low=0.0, high=1.0, *shape):
        share = self._share(shape)
        return share if (low, high) == (0.0, 1.0) else share * (high - low) + low

    def log_uniform(self, low, high, *shape):
        return torch.exp(self.uniform(math.log(low), math.log(high), *shape))

    def normal(self, deviation=1.0, *shape):
        if shape:
            return torch.randn(shape, device=self.device) * deviation
        self._normals_used += 1
        return self._normals[self._normals_used - 1] * deviation

    def chance(self, probability, *shape):
        """1 with the given probability, else 0."""
        return (self._share(shape) < probability).float()

    def sign(self, *shape):
        return 1 - 2 * self.chance(0.5, *shape)

    def colour(self, low=0.0, high=1.0):
        """One colour a picture, [B,3,1,1]."""
        return self.uniform(low, high, self.count, 3, 1, 1)

    def grey(self, low=0.0, high=1.0):
        return self.uniform(low, high, self.count, 1, 1, 1)

    def field(self, cell):
        """Smooth noise of about unit variance, [B,H,W]; its bumps are about `cell` pixels wide."""
        rows = max(2, int(self.height / cell) + 2)
        columns = max(2, int(self.width / cell) + 2)
        coarse = torch.randn((self.count, 1, rows, columns), device=self.device)
        size = (self.height, self.width)
        return F.interpolate(coarse, size, mode="bicubic", align_corners=True)[:, 0] * 1.3

    def path(self):
        """A smooth curve x = f(t): start, lean, bow (to a tenth of the length and more), and two waves."""
        length = self.long_side
        bowed = self.chance(0.35)
        wavy = self.chance(0.6)
        bow = bowed * self.normal(0.24).clamp(-0.5, 0.5) + (1 - bowed) * self.normal(0.02)
        waves = [
            (self.uniform() ** 2 * height * wavy, self.log_uniform(low, high), self.uniform(0, TURN))
            for height, low, high in ((9.0, 150, 600), (2.2, 40, 150))
        ]
        return {
            "start": torch.zeros_like(bow),
            "lean": torch.tan(self.normal(0.08).clamp(-0.35, 0.35)) * self.chance(0.6),
            "bow": bow / length,
            "s_bend": self.chance(0.15) * self.normal(0.35) / length**2,
            "waves": waves,
        }


def along(path, t):
    """The curve's x at t."""
    x = path["start"] + path["lean"] * t + path["bow"] * t * t + path["s_bend"] * t * t * t
    for height, length, phase in path["waves"]:
        x = x + height * torch.sin(t * (TURN / length) + phase)
    return x


def pixel_distance(level):
    """Signed distance in pixels from the line where `level` is 0, and the share of x in its direction."""
    slope_y, slope_x = torch.gradient(level, dim=(1, 2))
    square = slope_x * slope_x + slope_y * slope_y + 1e-8
    return level / square.sqrt(), slope_x * slope_x / square


def bell(distance, width):
    return torch.exp(-0.5 * (distance / width) ** 2)


def step(value, sharpness):
    """0 where value is well below 0, 1 where it is well above."""
    return torch.sigmoid(value * sharpness)


def dashes(t, length, share):
    """1 on the stitches of a seam along t, 0 between them; a larger share makes longer stitches."""
    return step(torch.sin(t * (TURN / length)) + share, 4.0)


def turned(x, y, angle):
    """Coordinates along and across a direction."""
    cos, sin = torch.cos(angle), torch.sin(angle)
    return x * cos + y * sin, y * cos - x * sin
