"""Striped, checked, plaid and printed cloth: colours, the sett (one repeat of the lines), and the weave."""
import math

import torch
import torch.nn.functional as F

from draws import TURN
from scene import Whole

TABLE = 512  # entries of a colour table: one repeat of the lines
BANDS = 14  # most bands in one repeat


def palette(draws, count):
    """`count` colours a picture, [B,count,3]: free, near grey, of one hue, tonal, or of one lightness."""
    batch = draws.count
    hue = draws.uniform(0, 1, batch, count)
    saturation = draws.uniform(0, 1, batch, count) ** 1.3
    value = draws.uniform(0.03, 1, batch, count)
    kind = draws.uniform(0, 1, batch, 1)
    own_hue = draws.uniform(0, 1, batch, 1)
    own_saturation = draws.uniform(0, 0.9, batch, 1)
    own_value = draws.uniform(0.1, 0.9, batch, 1)

    saturation = torch.where(kind < 0.26, saturation * 0.15, saturation)
    one_hue = (kind > 0.26) & (kind < 0.46)
    hue = torch.where(one_hue, own_hue + 0.06 * (hue - 0.5), hue)
    tonal = (kind > 0.46) & (kind < 0.64)
    contrast = draws.uniform(0.08, 0.35, batch, 1)
    hue = torch.where(tonal, own_hue + 0.03 * (hue - 0.5), hue)
    value = torch.where(tonal, (own_value + contrast * (value - 0.5)).clamp(0.03, 1), value)
    saturation = torch.where(tonal, (own_saturation + 0.2 * (saturation - 0.5)).clamp(0, 1), saturation)
    one_lightness = kind > 0.94
    value = torch.where(one_lightness, own_value.clamp(0.35, 0.8), value)
    saturation = torch.where(one_lightness, own_saturation.clamp(0.3, 0.8), saturation)

    corner = (torch.tensor([5.0, 3.0, 1.0], device=draws.device) + hue[..., None] * 6) % 6
    ramp = torch.minimum(corner, 4 - corner).clamp(0, 1)
    rgb = value[..., None] * (1 - saturation[..., None] * ramp)
    white = (draws.uniform(0, 1, batch, count, 1) < 0.18).float() * (1 - tonal.float()[..., None])
    rgb = rgb * (1 - white) + white * draws.uniform(0.8, 1, batch, count, 1)

    # The first two colours must differ, or there would be no lines: clearly, in tonal cloth by a little.
    first = rgb[:, :1]
    difference = (rgb[:, 1:2] - first).abs().amax(2, keepdim=True)
    least = torch.where(tonal, 0.05 + 0 * contrast, 0.14 + 0 * contrast)[..., None]
    away = torch.where(tonal[..., None], draws.uniform(0.06, 0.16, batch, 1, 1), torch.full_like(least, 0.3))
    moved = first + away * torch.where(first.mean(2, keepdim=True) > 0.5, -1.0, 1.0)
    second = torch.where(difference < least, moved, rgb[:, 1:2]).clamp(0, 1)
    return torch.cat((first, second, rgb[:, 2:]), 1)


def sett(draws, colours, repeat, gingham):
    """One repeat of the lines as a colour table [B,3,TABLE], blurred to about a pixel."""
    batch = draws.count
    even = gingham.view(batch, 1) > 0
    order = torch.arange(BANDS, device=draws.device)[None]
    bands = draws.log_uniform(2, BANDS + 0.99, batch, 1).floor()
    bands = torch.where(even, 2 * torch.ones_like(bands), bands)
    width = torch.exp(draws.uniform(0, 1, batch, BANDS) * draws.uniform(0.3, 3.6, batch, 1))
    width = torch.where(even, torch.ones_like(width), width) * (order < bands)
    edges = torch.cumsum(width, 1)
    edges = edges / edges[:, -1:]

    place = torch.linspace(0, 1, TABLE, device=draws.device)[None].expand(batch, TABLE)
    mirrored = (draws.chance(0.5, batch, 1) > 0) & ~even
    t = torch.where(mirrored, (2 * place - 1).abs(), place).contiguous()
    band = torch.searchsorted(edges.contiguous(), t.clamp(0, 0.9999)).clamp(max=BANDS - 1)

    shades = draws.uniform(2, 5.99, batch, 1).floor()
    pick = (draws.uniform(0, 1, batch, BANDS) * shades).floor().long()
    two_colours = draws.chance(0.35, batch, 1) > 0
    on_ground = (order % 2 == 0) & (draws.chance(0.5, batch, 1) > 0)
    pick = torch.where(two_colours | on_ground, (order % 2).expand(batch, BANDS), pick)
    second = torch.where(pick[:, 1:2] == pick[:, :1], (pick[:, :1] + 1) % 2, pick[:, 1:2])
    pick = torch.cat((pick[:, :1], second, pick[:, 2:]), 1)
    index = torch.gather(pick, 1, band)

    windowpane = draws.chance(0.28, batch, 1) * (1 - gingham.view(batch, 1))
    index = torch.where(windowpane > 0, _thin_lines(draws, place, repeat), index)
    table = torch.gather(colours, 1, index[..., None].expand(batch, TABLE, 3)).transpose(1, 2)

    frequency = torch.fft.rfftfreq(TABLE, 1.0, device=draws.device)[None, None]
    blur = draws.log_uniform(0.5, 1.2, batch, 1, 1) / repeat.view(batch, 1, 1) * TABLE
    return torch.fft.irfft(torch.fft.rfft(table) * torch.exp(-2 * (math.pi * blur * frequency) ** 2), TABLE)


def _thin_lines(draws, place, repeat):
    """Colour numbers of thin lines on a plain ground: one, twin, or one more at half the repeat."""
    batch = draws.count
    width = draws.log_uniform(0.006, 0.09, batch, 1).maximum(1.6 / repeat.view(batch, 1))
    twin = width * draws.log_uniform(1.5, 6, batch, 1)
    line = (place < width).long()
    is_twin = (place > twin) & (place < twin + width) & (draws.chance(0.45, batch, 1) > 0)
    is_middle = ((place - 0.5).abs() < width / 2) & (draws.chance(0.3, batch, 1) > 0)
    line = torch.where(is_middle & (line == 0), 3 * torch.ones_like(line), line)
    line = torch.where(is_twin & (line == 0), 2 * torch.ones_like(line), line)
    several_colours = (draws.chance(0.4, batch, 1) > 0).long()
    return torch.where(line > 0, 1 + (line - 1) * several_colours, 0 * line)


def read_table(table, phase, row):
    """Reads tables [B,C,R,N] at a phase map (one repeat is 1, any real number) and a row map."""
    rows, entries = table.shape[2:]
    padded = F.pad(table, (1, 1, 0, 0), mode="circular")
    gx = ((phase - torch.floor(phase)) * entries + 1.0) / (entries + 2) * 2 - 1
    gy = ((row + 0.5) / rows * 2 - 1).expand_as(gx)
    return F.grid_sample(padded, torch.stack((gx, gy), -1), mode="bilinear", align_corners=False)


class Cloth(Whole):
    """The two cloths of a picture: tables of their lines, repeats in pixels, and how they are woven."""

    def __init__(self, draws):
        self.draws = draws
        gingham = draws.chance(0.2)
        self.same_both_ways = torch.maximum(draws.chance(0.55), gingham)
        self.repeat = draws.log_uniform(9, 400)
        near = self.repeat * draws.log_uniform(0.85, 1.18)
        free = self.repeat * draws.log_uniform(0.3, 3)
        self.repeat_v = torch.where(self.same_both_ways > 0, near, free).clamp(7, 420)
        self.other_repeat = draws.log_uniform(9, 300)

        self.colours = palette(draws, 6)
        lines_u = sett(draws, self.colours, self.repeat, gingham)
        lines_v = sett(draws, self.colours, self.repeat_v, gingham)
        lines_v = torch.where(self.same_both_ways > 0, lines_u, lines_v)
        other = sett(draws, palette(draws, 6), self.other_repeat, draws.chance(0.1))
        self.table = torch.stack((lines_u, lines_v, other, other), 2)

        kind = draws.uniform()
        self.across_only = (kind < 0.34).float()
        self.along_only = ((kind > 0.34) & (kind < 0.39)).float()
        self.printed = ((kind > 0.39) & (kind < 0.51)).float()
        self.checked = (kind > 0.39).float()

    def colour_at(self, u, v, other):
        """The cloth's colour [B,3,H,W] at cloth coordinates in pixels; `other` 1 takes the second cloth."""
        draws = self.draws
        repeat_u = torch.where(other > 0, self.other_repeat, self.repeat)
        repeat_v = torch.where(other > 0, self.other_repeat, self.repeat_v)
        lines_u = read_table(self.table, u / repeat_u, other * 2)
        lines_v = read_table(self.table, v / repeat_v, other * 2 + 1)

        # Woven: each thread shows half of the time, in a twill that may be seen. Printed: lines lie on top.
        twill = torch.sin((u + v * draws.sign()) * (TURN / draws.log_uniform(2.2, 9.0)))
        twill = draws.chance(0.45) * draws.uniform(0.05, 0.5) * twill
        woven = (0.5 + draws.normal(0.05) + twill).clamp(0, 1)
        ground_v = self.table[:, :, 1, :1].view(-1, 3, 1, 1)
        on_top = ((lines_v - ground_v).abs().amax(1) > 0.06).float() * 0.85
        share_v = torch.where(self.printed > 0, on_top, woven) * self.checked + self.along_only
        image = lines_u * (1 - share_v[:, None]) + lines_v * share_v[:, None]
        plain = (other * draws.chance(0.5))[:, None]
        image = image * (1 - plain) + plain * self.colours[:, 0].view(-1, 3, 1, 1)
        return self._yarn(image, u, v)

    def _yarn(self, image, u, v):
        """Uneven threads both ways, and the grain of the cloth."""
        draws = self.draws
        uneven = torch.randn((draws.count, 1, 2, 1024), device=draws.device)
        span = draws.log_uniform(300, 1400)
        for coordinate, row in ((u, 0), (v, 1)):
            depth = (draws.uniform() ** 2 * 0.07)[:, None]
            image = image * (1 + depth * read_table(uneven, coordinate / span, row + 0 * coordinate))
        grain = torch.randn((draws.count, 1, draws.height, draws.width), device=draws.device)
        return image * (1 + (draws.uniform() ** 3 * 0.12)[:, None] * grain)


def print_motif(scene):
    """A small repeated figure on some cloths: dots, houndstooth-like blocks, flowers."""
    draws = scene.draws
    tile = torch.randn((draws.count, 1, 8, 8), device=draws.device)
    tile = F.interpolate(tile, (64, 64), mode="nearest")
    tile = F.avg_pool2d(F.pad(tile, (2, 2, 2, 2), mode="circular"), 5, 1)
    size = draws.log_uniform(9, 90)
    place = torch.stack(((scene.u / size) % 1 * 2 - 1, (scene.v / size) % 1 * 2 - 1), -1)
    figure = F.grid_sample((tile > 0.2).float(), place, align_corners=False)
    scene.image = scene.image + figure * draws.uniform(-0.6, 0.6)[:, None] * draws.colour()
