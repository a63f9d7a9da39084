"""The photographing: shrinking, focus, movement, sensor noise, sharpening, JPEG."""
import math
import random

import torch
import torch.nn.functional as F

# The luminance table of ISO/IEC 10918-1, annex K.
QUANTISATION = [
    [16, 11, 10, 16, 24, 40, 51, 61],
    [12, 12, 14, 19, 26, 58, 60, 55],
    [14, 13, 16, 24, 40, 57, 69, 56],
    [14, 17, 22, 29, 51, 87, 80, 62],
    [18, 22, 37, 56, 68, 109, 103, 77],
    [24, 35, 55, 64, 81, 104, 113, 92],
    [49, 64, 78, 87, 103, 121, 120, 101],
    [72, 92, 95, 98, 112, 100, 103, 99],
]


class Camera:
    def __init__(self, device):
        self.device = device
        self.table = torch.tensor(QUANTISATION, device=device).float()
        place = torch.arange(8, device=device).float()
        cosine = torch.cos((2 * place[None] + 1) * place[:, None] * math.pi / 16) * 0.5
        cosine[0] *= 0.5**0.5
        self.cosine = cosine

    def _uniform(self, low, high, *shape):
        return torch.rand(shape, device=self.device) * (high - low) + low

    def _log_uniform(self, low, high, *shape):
        return torch.exp(self._uniform(math.log(low), math.log(high), *shape))

    @torch.no_grad()
    def photograph(self, picture):
        """Half of the batch as it is, half through a smaller photograph; an eighth strongly blurred first."""
        eighth, half = picture.shape[0] // 8, picture.shape[0] // 2
        order = torch.randperm(picture.shape[0])
        shaken = self._blur_strongly(picture[:eighth]) if eighth else picture[:0]
        picture = torch.cat((shaken, picture[eighth:]), 0)
        back = torch.empty_like(picture)
        shrink = math.exp(random.uniform(math.log(1.2), math.log(3.8)))
        back[order[:half]] = self._expose(picture[order[:half]], shrink)
        back[order[half:]] = self._expose(picture[order[half:]], 1.0)
        return back.clamp(0, 1)

    def _blur_strongly(self, picture):
        """Out of focus (a disc) or moved in any direction (a line), up to 19 pixels."""
        count, reach = picture.shape[0], 9
        place = torch.arange(-reach, reach + 1, device=self.device).float()
        y, x = torch.meshgrid(place, place, indexing="ij")
        angle = self._uniform(0, math.pi, count, 1, 1)
        moved = (torch.rand((count, 1, 1), device=self.device) < 0.6).float()
        size = self._log_uniform(1.0, 9.0, count, 1, 1)
        disc = torch.sqrt(x * x + y * y) - size * 0.6
        t, across = x * torch.cos(angle) + y * torch.sin(angle), y * torch.cos(angle) - x * torch.sin(angle)
        line = torch.maximum(t.abs() - size, across.abs() - 0.6)
        kernel = torch.sigmoid(-3 * torch.where(moved > 0, line, disc))
        kernel = kernel / kernel.sum((1, 2), keepdim=True)
        padded = F.pad(picture, (reach,) * 4, mode="replicate")
        return torch.cat(
            [F.conv2d(one.unsqueeze(1), k[None, None]).transpose(0, 1) for one, k in zip(padded, kernel)], 0
        )

    def _expose(self, picture, shrink):
        count, _, height, width = picture.shape
        if shrink > 1:
            size = [max(64, int(round(side / shrink / 16)) * 16) for side in (height, width)]
            picture = F.interpolate(picture, size, mode="bilinear", antialias=True, align_corners=False)
        picture = self._soften(picture, 0.9 if shrink > 1 else 1.6)
        noise = self._uniform(0, 1, count, 1, 1, 1) ** 2 * 0.06
        picture = picture + noise * torch.randn_like(picture)
        sharpened = (torch.rand((count, 1, 1, 1), device=self.device) < 0.3).float()
        near = F.avg_pool2d(F.pad(picture, (1, 1, 1, 1), mode="replicate"), 3, 1)
        picture = picture + sharpened * self._uniform(0, 1.2, count, 1, 1, 1) * (picture - near)
        picture = self._jpeg(picture.clamp(0, 1))
        if shrink > 1:
            mode = random.choice(("bilinear", "bicubic"))
            picture = F.interpolate(picture, (height, width), mode=mode, align_corners=False)
        return picture

    def _soften(self, picture, most):
        """The lens's own blur, a little different down and across."""
        count = picture.shape[0]
        place = torch.arange(-4, 5, device=self.device).float()[None]
        sigma = self._log_uniform(0.25, most, count, 1)
        for axis in (2, 3):
            kernel = torch.exp(-0.5 * (place / (sigma * self._uniform(0.7, 1.4, count, 1))) ** 2)
            kernel = (kernel / kernel.sum(1, keepdim=True)).view(count, 9, 1, 1, 1)
            edge = (4, 4, 0, 0) if axis == 3 else (0, 0, 4, 4)
            padded = F.pad(picture, edge, mode="replicate")
            picture = torch.zeros_like(picture)
            for tap in range(9):
                picture.addcmul_(padded.narrow(axis, tap, picture.shape[axis]), kernel[:, tap])
        return picture

    def _jpeg(self, picture):
        """8x8 cosine transform, quantised, colour at half size, as JPEG does."""
        count, _, height, width = picture.shape
        quality = self._log_uniform(0.1, 2.4, count, 1, 1, 1, 1, 1)
        red, green, blue = picture[:, 0], picture[:, 1], picture[:, 2]
        luma = 0.299 * red + 0.587 * green + 0.114 * blue
        chroma = F.avg_pool2d(torch.stack((0.564 * (blue - luma), 0.713 * (red - luma)), 1), 2)
        table = (self.table * quality).clamp(min=1)
        luma = self._quantised(luma[:, None], table)[:, 0]
        chroma = self._quantised(chroma + 0.5, table * 1.3) - 0.5
        chroma = F.interpolate(chroma, (height, width), mode="bilinear", align_corners=False)
        blue = chroma[:, 0] / 0.564 + luma
        red = chroma[:, 1] / 0.713 + luma
        green = (luma - 0.299 * red - 0.114 * blue) / 0.587
        return torch.stack((red, green, blue), 1).clamp(0, 1)

    def _quantised(self, plane, table):
        count, channels, height, width = plane.shape
        plane = F.pad(plane, (0, -width % 8, 0, -height % 8), mode="replicate")
        rows, columns = plane.shape[2:]
        kept = self._transform(plane * 255 - 128, self.cosine)
        kept = kept.view(count, channels, rows // 8, 8, columns // 8, 8).transpose(3, 4)
        kept = torch.round(kept / table) * table
        kept = kept.transpose(3, 4).reshape(count, channels, rows, columns)
        plane = self._transform(kept, self.cosine.T.contiguous())
        return ((plane + 128) / 255)[:, :, :height, :width]

    @staticmethod
    def _transform(plane, matrix):
        """Applies an 8x8 matrix to both directions of every 8x8 block."""
        for _ in range(2):
            shape = plane.shape
            plane = (plane.reshape(-1, 8) @ matrix.T).view(shape).transpose(2, 3)
        return plane
