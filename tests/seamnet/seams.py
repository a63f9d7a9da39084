"""What a seam looks like: crease, overlap, zip, stitching, pucker, basting, pins, buttons; and its truth."""
import torch

from draws import TURN, bell, dashes, pixel_distance, step
from scene import Whole

# A zip whose folds stand closer than this is one line, in the middle of the gap; a wider one is two lines, its folds.
ZIP_GAP_AS_ONE_LINE = 25.0
LABEL_WIDTH = 2.0  # pixels, one standard deviation


class Seam(Whole):
    """One seam slot: where it is, whether it is a join (or a mere row of stitches), and how it looks."""

    def __init__(self, scene, level, active, is_join, matched, t, is_main=False):
        draws = scene.draws
        self.scene, self.draws, self.t, self.is_main = scene, draws, t, is_main
        self.distance, self.share_x = pixel_distance(level)
        self.active = active * (1 - scene.in_pocket)
        self.is_join = is_join
        self.buttons_here = scene.button_front if is_main else 0 * scene.button_front
        side = scene.top_side if is_main else draws.sign()
        self.top_side = side
        self.beyond = self.distance * side  # positive on the panel that lies below
        self.uneven = (1 + 0.5 * draws.field(90)).clamp(0.15, 2)

        kind = draws.uniform()
        pressed = scene.closeup * draws.chance(0.55)
        kind = torch.where(pressed > 0, 0.12 + 0.4 * kind, kind)
        self.zip_half = draws.log_uniform(2.5, 30.0)
        if is_main:
            kind = torch.where(draws.chance(0.11) > 0, torch.full_like(kind, 0.9), kind)
        else:
            kind = torch.where((kind >= 0.86) & (kind < 0.93), kind - 0.2, kind)
        kind = torch.where(self.buttons_here > 0, 0.52 + 0.34 * draws.uniform(), kind)
        # A seam with no look of its own is a seam only where the lines break.
        bare = (kind < 0.14).float() * (1 - matched)
        self.shown = self.active * (1 - bare)
        self.crease = (kind < 0.52).float()
        self.overlap = ((kind >= 0.52) & (kind < 0.86)).float()
        self.zip = ((kind >= 0.86) & (kind < 0.93)).float() * is_join
        self.lapped = (kind >= 0.93).float()
        faint = torch.maximum(draws.chance(0.25), scene.closeup * draws.chance(0.4))
        depth = draws.log_uniform(0.12, 1.0)
        self.depth = torch.where(faint > 0, depth * 0.35, depth)
        # A well-pressed seam: a hairline a few per cent darker than the cloth, often in a wide soft dip.
        chance = draws.chance(0.45) if is_main else draws.chance(0.15)
        self.hairline = self.crease * chance * torch.maximum(scene.closeup, draws.chance(0.3))

    def draw(self):
        self._crease()
        self._overlap()
        self._topstitching()
        if not self.is_main:
            self._inner_edge()
        else:
            closeup = self.scene.closeup
            self._draw_on(0.11, self.zip, Seam._zip)
            self._draw_on(0.1, closeup, Seam._basting)
            self._draw_on(0.11, torch.maximum(closeup, self.draws.chance(0.4)), Seam._pins)
            can_have_buttons = self.overlap + self.crease * self.draws.chance(0.3)
            can_have_buttons = can_have_buttons * self.draws.chance(0.3)
            self._draw_on(0.24, torch.maximum(2 * self.buttons_here, can_have_buttons), Seam._buttons)
        self._truth()

    def _draw_on(self, share, among, draw):
        for part in self.some(share, among):
            draw(part)
            part.scene.put_back()

    def _darken(self, amount):
        self.scene.darken(amount)

    def _crease(self):
        draws, d = self.draws, self.distance
        width = draws.log_uniform(0.7, 3.5)
        share = self.crease + self.overlap * draws.chance(0.5) * 0.7 + self.lapped * 0.3
        share = (share * self.is_join + (1 - self.is_join) * 0.3) * (1 - self.hairline)
        amount = self.shown * share * self.depth * self.uneven
        self._darken(amount * bell(d, width) * 0.9)
        glint = draws.chance(0.7) * draws.uniform(0.1, 0.6)
        self._darken(-amount * glint * bell(self.beyond - width * 2, width * draws.log_uniform(0.8, 4)))

        fine = self.shown * self.hairline
        steady = 0.6 + 0.4 * self.uneven
        self._darken(fine * steady * draws.log_uniform(0.025, 0.16) * bell(d, draws.log_uniform(0.5, 1.3)))
        glint = draws.chance(0.4) * draws.uniform(0.01, 0.05)
        self._darken(-fine * glint * bell(d - draws.normal(2.0), draws.log_uniform(0.7, 2.5)))
        dip = self.shown * draws.chance(0.5) * torch.maximum(self.hairline, self.crease * self.scene.closeup)
        self._darken(dip * draws.log_uniform(0.02, 0.2) * bell(d, draws.log_uniform(5, 40)))

        pucker = self.shown * draws.chance(0.3) * draws.uniform(0, 0.25)
        pucker = pucker * torch.exp(-((d / draws.log_uniform(6, 30)) ** 2))
        self._darken(pucker * torch.sin(self.t * (TURN / draws.log_uniform(8, 40)) + 3 * self.uneven))

    def _overlap(self):
        """One panel lies on the other: it casts a shadow beyond its fold, and may gape."""
        draws, scene = self.draws, self.scene
        amount = self.shown * (self.overlap + self.lapped * 0.5) * self.is_join * self.depth * self.uneven
        reach = draws.log_uniform(1.2, 14)
        self._darken(amount * 0.9 * torch.exp(-self.beyond.clamp(min=0) / reach) * step(self.beyond, 2.0))
        lit = self.shown * self.overlap * draws.chance(0.5) * 0.3 * self.depth
        self._darken(-lit * bell(self.beyond + 1.5, draws.log_uniform(1, 3)))
        gaping = self.shown * self.overlap * self.is_join * draws.chance(0.15)
        width = (self.uneven - 1) * 5 + draws.uniform(-1, 2)
        scene.cover(gaping * step(self.beyond, 2.0) * step(width - self.beyond, 2.0), draws.colour(0, 0.25))

    def _inner_edge(self):
        """Where a hem or the band of buttons is stitched down: a ridge, a step of light, no break in the lines."""
        draws, d = self.draws, self.distance
        ridge = self.shown * (1 - self.is_join) * draws.chance(0.6) * draws.uniform(0.03, 0.3)
        width = draws.log_uniform(1, 5)
        self._darken(ridge * draws.sign() * torch.tanh(d / width) * bell(d, width * 2))

    def _topstitching(self):
        """Stitches beside the edge, the second row on either side. Without a join there is nothing else."""
        draws, scene, d = self.draws, self.scene, self.distance
        only = 1 - self.is_join
        for number, (share, low, high) in enumerate(((0.42, 2.0, 45.0), (0.18, 1.5, 14.0))):
            beside = draws.chance(share) * (self.overlap + 0.5 * self.crease + self.lapped).clamp(0, 1)
            on = self.shown * torch.where(only > 0, torch.ones_like(beside) * (1.0 if number == 0 else 0.2), beside)
            side = -self.top_side if number == 0 else draws.sign()
            offset = torch.where(only > 0, (0.0 if number == 0 else 3.0) * side, draws.log_uniform(low, high) * side)
            line = bell(d - offset, draws.log_uniform(0.6, 1.5))
            stitch = dashes(self.t, draws.log_uniform(4, 14), draws.uniform(-0.6, 0.9))
            thread = draws.colour() * draws.uniform(0.2, 1.1)[:, None]
            scene.cover((on * draws.uniform(0.1, 0.8) * line * stitch).clamp(0, 1), thread)
            dent = bell(d - offset, draws.log_uniform(1, 4)) * draws.uniform(0, 0.35) * draws.chance(0.6)
            self._darken(on * dent)

    def _zip(self):
        """Tape and teeth between two folds, which may be bare of teeth where the tape covers them."""
        draws, scene, d = self.draws, self.scene, self.distance
        shown = self.active * self.zip
        inside = shown * step(self.zip_half - d.abs(), 2.0)
        tape = draws.colour() * draws.grey(0.05, 1)
        scene.cover(inside, tape)
        rib = torch.sin(self.t * (TURN / draws.log_uniform(2.2, 5))) * draws.uniform(0, 0.12)
        self._darken(inside * rib)
        half = (self.zip_half * draws.uniform(0.25, 0.9)).clamp(max=9.0)
        pitch = draws.log_uniform(2.5, 9)
        interlocked = draws.chance(0.6) * (d > 0).float() * 3.1416
        tooth = step(torch.sin(self.t * (TURN / pitch) + interlocked), 3.0) * step(half - d.abs(), 2.0)
        metal = draws.colour(0.1, 1) * 0.5 + 0.5 * draws.grey()
        scene.cover(inside * tooth * draws.uniform(0.3, 1) * draws.chance(0.65), metal)
        self._darken(inside * draws.chance(0.5) * draws.uniform(0.1, 0.7) * bell(d, draws.log_uniform(0.6, 1.5)))
        edge = bell(d.abs() - self.zip_half, draws.log_uniform(0.8, 3))
        self._darken(shown * self.depth * 0.8 * edge)
        stitched = shown * draws.chance(0.5) * bell(d.abs() - self.zip_half - draws.log_uniform(2, 9), 0.9)
        stitched = stitched * draws.uniform(0.1, 0.7)
        scene.cover(stitched * dashes(self.t, draws.log_uniform(4, 12), 0.4), draws.colour())
        at = self.t - draws.uniform(-0.5, 0.5) * draws.long_side
        pull = torch.maximum(d.abs() - half * 1.3, at.abs() - half * draws.uniform(1, 4))
        scene.cover(shown * draws.chance(0.4) * step(-pull, 2.0), metal * 0.8)

    def _basting(self):
        draws = self.draws
        on = self.active * self.on
        line = bell(self.distance - draws.normal(3.0), draws.log_uniform(0.6, 1.6))
        stitch = dashes(self.t, draws.log_uniform(10, 40), draws.uniform(-0.2, 0.5))
        self.scene.cover((on * 0.9 * line * stitch).clamp(0, 1), self.draws.colour())

    def _pins(self):
        """Pins stuck across the seam, about evenly spaced, with a coloured head."""
        draws, scene = self.draws, self.scene
        on = self.active * self.on
        spacing = draws.log_uniform(50, 220)
        shifted = self.t + draws.uniform(0, 300)
        here = torch.remainder(shifted, spacing) - spacing / 2
        number = torch.floor(shifted / spacing)
        lean = draws.normal(0.12) + 0.1 * torch.sin(number * 2.4)
        across = self.distance - draws.normal(6.0) - 4 * torch.sin(number * 1.7)
        side = draws.sign()
        reach = draws.log_uniform(14, 55)
        off_line = here - lean * across
        needle = step(draws.log_uniform(0.5, 1.6) - off_line.abs(), 2.5) * step(reach - across.abs(), 1.5)
        covered = draws.chance(0.7) * (across.abs() < reach * 0.35).float()
        needle = on * needle * (1 - covered)
        self._darken(on * 0.3 * bell(off_line - 2, 1.2) * step(reach - across.abs(), 1.5) * (1 - covered))
        scene.cover(needle * draws.uniform(0.5, 1), draws.grey(0.2, 0.9) * (1 + draws.colour(-0.08, 0.08)))
        radius = draws.log_uniform(2, 8)
        head = torch.sqrt((across - side * reach) ** 2 + (here - lean * side * reach) ** 2 + 1e-6)
        self._darken(on * 0.35 * step(radius * 1.3 - head, 0.8))
        scene.cover(on * step(radius - head, 2.0), draws.colour())

    def _buttons(self):
        """Buttons down the middle of the band that lies on top, or buttonholes where it is open."""
        draws, scene = self.draws, self.scene
        on = self.active * torch.where(self.buttons_here > 0, draws.chance(0.92), self.on)
        radius = draws.log_uniform(2.2, 12.0)
        radius = torch.where(self.buttons_here > 0, radius.minimum(scene.band_width * 0.33), radius)
        near = torch.where(draws.chance(0.75) > 0, radius * draws.log_uniform(1.1, 3.5), radius * draws.normal(0.3))
        middle = scene.band_width * draws.uniform(0.38, 0.6)
        across = self.distance + self.top_side * torch.where(self.buttons_here > 0, middle, near)
        spacing = radius * draws.log_uniform(5, 20)
        t = torch.remainder(self.t + draws.uniform(0, 300), spacing) - spacing / 2
        from_centre = torch.sqrt(across**2 + t * t + 1e-6)

        is_hole = draws.chance(0.2)
        upright = draws.chance(0.6)
        along_hole = torch.where(upright > 0, t, across).abs() - radius * 1.3
        beside_hole = torch.where(upright > 0, across, t).abs() - 1.3
        hole = on * is_hole * step(-torch.maximum(along_hole, beside_hole), 2.0)
        scene.cover(hole * draws.uniform(0.3, 0.9), draws.colour())

        on = on * (1 - is_hole)
        shadow = torch.sqrt((across - 1.5) ** 2 + (t - 1.5) ** 2 + 1e-6) / (radius * 1.25)
        self._darken(on * 0.5 * torch.exp(-(shadow**6)))
        face = on * step(radius - from_centre, 2.5)
        scene.cover(face, draws.colour() * 0.3 + draws.grey(0, 0.7))
        rim = torch.cos(from_centre / radius * 3.1) - 0.2
        self._darken(-face * 0.25 * rim * draws.normal(1.0))
        self._darken(on * draws.chance(0.5) * 0.7 * torch.exp(-((from_centre / (radius * 0.3)) ** 2)))

    def _truth(self):
        """A soft line on the map of its own direction; a wide zip has two."""
        from_line = self.distance
        if self.is_main:
            wide_zip = self.zip * (2 * self.zip_half > ZIP_GAP_AS_ONE_LINE).float()
            from_line = torch.where(wide_zip > 0, from_line.abs() - self.zip_half, from_line)
        line = bell(from_line, LABEL_WIDTH) * self.active * self.is_join
        self.scene.mark(line, self.share_x)


def draw_seams(scene):
    one = torch.ones_like(scene.angle)
    for name in ("left", "right", "main", "cross", "waistband", "pocket"):
        if name == "main":
            matched = torch.maximum(scene.main_matched, scene.cloth.along_only)
            Seam(scene, scene.main_level, scene.main_active, one, matched, scene.Y, is_main=True).draw()
            continue
        slot = scene.slots.get("cross" if name == "waistband" else name)
        if slot is None:
            continue
        part = scene.part(slot.index)
        if name == "pocket":
            _pocket_edge(part, slot.level)
        elif name == "waistband":
            _waistband_edge(part, slot)
        else:
            lines_along = part.cloth.across_only if name == "cross" else part.cloth.along_only
            matched = torch.maximum(slot.matched, lines_along)
            t = part.X if name == "cross" else part.Y
            Seam(part, slot.level, slot.active, slot.is_join, matched, t).draw()
        part.put_back()
    for _ in range(2):
        for part in scene.some(0.15):
            _stray_stitching(part)


def _waistband_edge(scene, slot):
    """The waistband's other edge: a join with a crease, a shadow to one side and a row of stitches."""
    draws = scene.draws
    d, share_x = pixel_distance(slot.level + slot.waistband_width)
    on = slot.is_waistband * (1 - scene.in_pocket)
    scene.darken(on * bell(d, draws.log_uniform(0.7, 3)) * draws.uniform(0.05, 0.7))
    beyond = d * draws.sign()
    shadow = torch.exp(-beyond.clamp(min=0) / draws.log_uniform(1.5, 12)) * step(beyond, 2.0)
    scene.darken(on * shadow * draws.uniform(0, 0.5) * draws.chance(0.5))
    stitch = dashes(scene.X, draws.log_uniform(4, 12), draws.uniform(-0.2, 0.8))
    row = bell(d - draws.log_uniform(2, 9), 0.9) * draws.chance(0.5)
    scene.cover((on * row * draws.uniform(0, 0.7) * stitch).clamp(0, 1), draws.colour())
    line = bell(d, LABEL_WIDTH) * on
    scene.mark(line, share_x)


def _pocket_edge(scene, level):
    """Crease, stitches and sometimes a shadow round a pocket: joined indeed, but never the seam asked for."""
    draws = scene.draws
    scene.darken(bell(level, draws.log_uniform(0.7, 2)) * draws.uniform(0, 0.6))
    shadow = draws.chance(0.4) * draws.uniform(0, 0.4) * torch.exp(-level.clamp(min=0) / draws.log_uniform(1.5, 8))
    scene.darken(shadow * (level > 0).float())
    stitch = dashes(scene.x + scene.y, draws.log_uniform(4, 12), draws.uniform(-0.2, 0.8))
    row = bell(level + draws.log_uniform(2, 6), 0.9)
    scene.cover((row * draws.uniform(0, 0.7) * stitch).clamp(0, 1), draws.colour())
    scene.weight = scene.weight * (1 - 0.65 * (level.abs() < 7).float())


def _stray_stitching(scene):
    """A row of stitches or a thin drawn line that joins nothing."""
    draws = scene.draws
    angle = draws.uniform(0, 4).floor() * 1.5708 + draws.normal(0.08)
    x = scene.x - draws.uniform(-0.45, 0.45) * draws.width
    y = scene.y - draws.uniform(-0.45, 0.45) * draws.height
    d = x * torch.cos(angle) + y * torch.sin(angle)
    t = y * torch.cos(angle) - x * torch.sin(angle)
    d = d + draws.normal(0.05) / draws.long_side * t * t
    stitch = dashes(t, draws.log_uniform(4, 16), draws.uniform(-0.5, 1.5))
    line = bell(d, draws.log_uniform(0.6, 1.6))
    scene.cover((draws.uniform(0.15, 0.8) * line * stitch).clamp(0, 1), draws.colour())
    scene.darken(bell(d, draws.log_uniform(1, 4)) * draws.uniform(0, 0.35))
