"""Where the cloth lies and where it is joined.

Coordinates: x, y are pixels from the middle of the picture; X runs across the main seam, Y along it. Seams may run
along three slots of direction Y (left, main, right) and one of direction X (the cross seam). They cut the cloth into
eight panels; a pocket and a waistband lie on top. Each panel carries the cloth moved by a jump, sloped,
stretched, turned, or another cloth.
"""
import math

import torch

from draws import TURN, along, bell, turned

POCKET, WAISTBAND = 8, 9  # panels 0 to 3 lie above the cross seam, 4 to 7 below it


def lay_out(scene):
    """Draws everything of a scene that has a place: drape, folds, seams, gathers, panels and cloth coordinates."""
    _point_camera(scene)
    _drape(scene)
    for number in range(6):
        for part in scene.some(0.19, among=torch.maximum(scene.lively, scene.draws.chance(0.2))):
            _fold(part, hides=number < 3)
    for _ in range(2):
        for part in scene.some(0.14):
            _valley(part)
    _place_slots(scene)
    _number_panels(scene)


def _point_camera(scene):
    draws, x, y = scene.draws, scene.x, scene.y
    length = draws.long_side
    scene.closeup = draws.chance(0.5)
    scene.lively = 1 - scene.closeup
    scene.runs_across = draws.chance(0.4)
    leaning = draws.chance(0.3) * draws.uniform(-0.44, 0.44)
    quarter = scene.runs_across * (math.pi / 2) * draws.sign()
    scene.angle = quarter + draws.normal(0.05) + leaning
    tilt = draws.chance(0.6) * 0.13 / length
    depth = 1 + draws.normal() * tilt * x + draws.normal() * tilt * y
    lens = draws.chance(0.3) * draws.normal(0.12) / (length / 2) ** 2
    scale = (1 + lens * (x * x + y * y)) / depth.clamp(0.6, 1.6)
    scene.X, scene.Y = turned(x * scale, y * scale, scene.angle)


def _drape(scene):
    """Cloth that does not lie flat: bent lines and soft shading, at three sizes."""
    draws = scene.draws
    for cell, height in ((300, 20.0), (120, 8.0), (50, 2.6)):
        bumps = draws.field(cell)
        slope_y, slope_x = torch.gradient(bumps, dim=(1, 2))
        bend = draws.uniform() ** 2 * height * draws.chance(0.75) * (scene.lively + 0.08 * scene.closeup)
        scene.X = scene.X + bend * slope_x * cell * 0.3
        scene.Y = scene.Y + bend * slope_y * cell * 0.3
        light = draws.uniform(0, TURN)
        depth = draws.uniform() ** 2 * 0.4 * draws.chance(0.6) * (scene.lively + 0.1 * scene.closeup)
        facing = slope_x * torch.cos(light) + slope_y * torch.sin(light)
        scene.shade = scene.shade + depth * facing * cell * 0.4


def _fold(scene, hides):
    """A fold, wrinkle or crease. Some hide a strip of cloth. None is a seam."""
    draws = scene.draws
    length = draws.long_side
    angle = draws.uniform(0, TURN)
    upright = (angle / 1.5708).round() * 1.5708 + draws.normal(0.1)
    angle = torch.where(draws.chance(0.35) > 0, upright, angle)
    width = draws.log_uniform(1.2, 40.0)
    across, t = _from_somewhere(scene, angle, 0.5)
    across = across + draws.normal(0.12) / length * t * t
    across = across + draws.normal(3.0) * torch.sin(t / draws.log_uniform(25, 150) + draws.uniform(0, TURN))
    reach = draws.log_uniform(0.08, 0.9) * length * (1 - 0.65 * scene.closeup)
    here = scene.on * torch.exp(-((t / reach) ** 4))
    ridge = draws.chance(0.35) * draws.normal(1.2) + draws.normal(0.9) * across / width
    scene.darken(-here * draws.uniform(0.03, 0.5) * bell(across, width) * ridge)
    if hides:
        hidden = here * draws.normal(9.0) * draws.chance(0.65) * torch.tanh(across / (width * 1.5))
        scene.X = scene.X + hidden * torch.cos(angle)
        scene.Y = scene.Y + hidden * torch.sin(angle)


def _valley(scene):
    """A faint dip or ridge through the whole picture, as cloth keeps from being folded: no seam."""
    draws = scene.draws
    across, t = _from_somewhere(scene, draws.uniform(0, 4).floor() * 1.5708 + draws.normal(0.1), 0.45)
    across = across + draws.normal(0.1) / draws.long_side * t * t
    width = draws.log_uniform(5, 40)
    tilted = draws.chance(0.5) * across / width * 1.5
    depth = draws.uniform(0.02, 0.25) * draws.sign()
    scene.darken(depth * bell(across, width) * (0.7 - tilted))


def _from_somewhere(scene, angle, reach):
    """Coordinates in a direction, from a place in the picture."""
    draws = scene.draws
    x = scene.x - draws.uniform(-reach, reach) * draws.width
    y = scene.y - draws.uniform(-reach, reach) * draws.height
    return turned(x, y, angle)


class Slot:
    """A seam other than the main one: the pictures that have it, and maps of those pictures alone."""

    def __init__(self, part, level, is_join):
        self.index = part.index
        self.level = level  # signed distance across the seam, not yet in pixels
        self.is_join = is_join * part.on  # 0 where it is a mere row of stitches
        self.active = part.on * torch.ones_like(level)  # where along the seam it is there
        self.matched = None  # 1 where the lines run on, so that only its look shows the seam


def _place_slots(scene):
    draws, X, Y = scene.draws, scene.X, scene.Y
    height, width = float(draws.height), float(draws.width)
    has_seam = draws.chance(0.8)
    scene.main_on = has_seam
    scene.top_side = draws.sign()  # +1: at an overlap the panel of smaller X lies on top
    scene.button_front = has_seam * draws.chance(0.17)
    extent = torch.where(scene.runs_across > 0, height + 0 * has_seam, width + 0 * has_seam)

    main = draws.path()
    central = scene.closeup * draws.chance(0.5)
    main["start"] = draws.normal(0.13).clamp(-0.33, 0.33) * extent * (1 - 0.6 * central)
    scene.main_x = along(main, Y)
    scene.main_start = main["start"]
    scene.main_level = X - scene.main_x
    scene.band_width = draws.log_uniform(13, 60)

    scene.below = torch.zeros_like(scene.X)  # 1 beyond the cross seam
    scene.in_waistband = torch.zeros_like(scene.X)
    scene.in_pocket = torch.zeros_like(scene.X)
    scene.main_goes_on, scene.left_goes_on = draws.chance(0.7), draws.chance(0.7)
    scene.main_active = has_seam * torch.ones_like(scene.X)
    scene.slots = {}
    for part in scene.some(0.21, among=has_seam):
        _place_cross_seam(part, scene)
    scene.main_active = scene.main_active * (1 - scene.below * (1 - scene.main_goes_on))
    scene.left_of_slot = torch.zeros_like(scene.X)  # 1 beyond the left seam
    scene.right_of_slot = torch.zeros_like(scene.X)  # 1 beyond the right seam
    for side in (-1, 1):
        # The stitched inner edge of the band that lies on top, where the lines run on, comes first.
        scene.inner_edge = scene.button_front * (scene.top_side * side < 0).float()
        for part in scene.some(0.35, among=torch.maximum(2 * scene.inner_edge, has_seam)):
            _place_side_seam(part, scene, side)
    for part in scene.some(0.15):
        _place_pocket(part, scene)
    scene.main_active = scene.main_active * (1 - scene.in_waistband)


def _place_cross_seam(part, scene):
    draws = part.draws
    path = draws.path()
    extent = torch.where(part.runs_across > 0, float(draws.width), float(draws.height))
    path["start"] = draws.normal(0.22) * extent
    level = (part.Y - along(path, part.main_level)) * draws.sign()
    part.below = (level > 0).float() * part.on
    slot = Slot(part, level, torch.ones_like(part.on))
    slot.is_waistband = draws.chance(0.35) * part.on
    slot.waistband_width = draws.log_uniform(16, 80)
    inside = (level < 0) & (level > -slot.waistband_width)
    part.in_waistband = inside.float() * slot.is_waistband
    scene.slots["cross"] = slot
    # Cloth gathered into the seam: many small folds that fade away from it.
    for gathered in part.some(0.35):
        gathered.__dict__["level"] = level[gathered.index]
        _gather(gathered)


def _gather(scene):
    draws, level, t = scene.draws, scene.level, scene.X
    fading = scene.on * torch.exp(-level.clamp(min=0) / draws.log_uniform(15, 160)) * (level > 0).float()
    phase = t * (TURN / draws.log_uniform(9, 45)) + 1.8 * draws.field(70) + 0.02 * level * draws.normal()
    fading = fading * (1 + 0.6 * draws.field(40)).clamp(0, 2)
    scene.darken(-fading * draws.uniform(0.05, 0.4) * torch.sin(phase))
    scene.X = t + fading * draws.uniform(0.3, 4.0) * torch.cos(phase)


def _place_side_seam(part, scene, side):
    draws = part.draws
    inner_edge = part.inner_edge
    near = torch.maximum(draws.chance(0.55), inner_edge)
    gap = torch.where(near > 0, draws.log_uniform(7, 45), draws.uniform(70, 280))
    gap = torch.where(inner_edge > 0, part.band_width, gap)
    wander = along(draws.path(), part.Y)
    parallel = 0.3 * draws.uniform() * wander.clamp(-4, 4)
    level = part.X - part.main_x - side * gap - torch.where(near > 0, parallel, wander.clamp(-60, 60))
    is_join = torch.where(near > 0, draws.chance(0.3), draws.chance(0.85))
    is_join = torch.where(inner_edge > 0, draws.chance(0.1), is_join)
    slot = Slot(part, level, is_join)
    goes_on = part.left_goes_on if side < 0 else part.main_goes_on
    slot.active = slot.active * (1 - part.below * (1 - goes_on)) * (1 - part.in_waistband)
    if side < 0:
        part.left_of_slot = (level < 0).float() * slot.is_join
        scene.slots["left"] = slot
    else:
        part.right_of_slot = (level > 0).float() * slot.is_join
        scene.slots["right"] = slot


def _place_pocket(part, scene):
    draws = part.draws
    across, down = _from_somewhere(part, draws.normal(0.06), 0.4)
    level = torch.maximum(across.abs() - draws.log_uniform(25, 110), down.abs() - draws.log_uniform(25, 120))
    # The flap or the pointed lower edge of a shirt pocket.
    level = level + draws.chance(0.3) * draws.uniform(0.05, 0.25) * across.abs() * (down > 0).float()
    part.in_pocket = (level < 0).float()
    scene.slots["pocket"] = Slot(part, level, torch.zeros_like(part.on))


def _number_panels(scene):
    """Draws how each panel's cloth is moved, and reads it at every pixel: scene.u, scene.v, scene.other."""
    draws, cloth = scene.draws, scene.cloth
    zero = torch.zeros_like(scene.angle)
    joint = draws.uniform()
    scene.chevron = (joint < 0.2).float()
    slanted = ((joint > 0.2) & (joint < 0.32)).float()
    flared = ((joint > 0.32) & (joint < 0.5)).float()
    steep = torch.tan(draws.uniform(0.06, 0.8)) * draws.sign()

    base = {
        "slope": (scene.chevron + slanted) * steep + draws.chance(0.3) * draws.normal(0.03),
        "u": draws.uniform(-400, 400),
        "v": draws.uniform(-400, 400),
        "stretch": zero,
        "turn": draws.chance(0.1) * draws.uniform(-0.8, 0.8),
        "other": zero,
        "slip": zero,
        "slip_at": zero,
    }

    def beyond(panel, breaks, joined, mirrored=False):
        """The panel beyond a seam, and whether the seam shows by nothing but its look."""
        amount = draws.uniform() * (1 - 0.24 * scene.closeup * draws.chance(0.4))
        anywhere = draws.uniform(-0.5, 0.5) * cloth.repeat
        jump = torch.where(amount < 0.36, draws.normal(3.0), anywhere)
        jump = torch.where(amount < 0.2, draws.normal(0.7), jump)
        turns = breaks * draws.chance(0.1)
        turn = torch.where(draws.chance(0.4) > 0, draws.uniform(-0.8, 0.8), 1.5708 * draws.sign())
        changes = breaks * draws.chance(0.07)
        new = dict(panel)
        # Stitched down without a break, the cloth still moves by a hair.
        new["u"] = panel["u"] + breaks * jump + joined * (1 - breaks) * draws.normal(0.4)
        new["v"] = panel["v"] + breaks * draws.uniform(-0.5, 0.5) * cloth.repeat_v * draws.chance(0.75)
        if mirrored:
            leaning = panel["slope"] + breaks * flared * torch.tan(draws.normal(0.07))
            point = -panel["slope"] * (1 + draws.normal(0.05))
            new["slope"] = torch.where(breaks * scene.chevron > 0, point, leaning)
        else:
            new["slope"] = panel["slope"] + breaks * draws.chance(0.25) * draws.normal(0.08)
        new["stretch"] = panel["stretch"] + breaks * draws.chance(0.3) * draws.normal(0.025)
        new["slip"] = breaks * draws.chance(0.2) * draws.normal(0.15) * cloth.repeat
        new["slip_at"] = draws.normal(0.25) * draws.long_side
        new["turn"] = panel["turn"] + turns * turn
        new["other"] = torch.where(changes > 0, 1 - panel["other"], panel["other"])
        matched = (jump.abs() < 2.5).float() * (1 - turns) * (1 - changes)
        if mirrored:
            matched = matched * (1 - scene.chevron)
        return new, matched

    def spread(name, key):
        """A slot's value for each picture, 0 for those without it."""
        slot = scene.slots.get(name)
        return zero if slot is None else zero.index_copy(0, slot.index, getattr(slot, key))

    left_of_main = base
    right_of_main, scene.main_matched = beyond(base, scene.main_on, scene.main_on, mirrored=True)
    neighbours = {}
    for name, panel in (("left", base), ("right", right_of_main), ("cross", base)):
        breaks = spread(name, "is_join")
        neighbours[name], matched = beyond(panel, breaks, 1 + zero)
        if name in scene.slots:
            scene.slots[name].matched = matched[scene.slots[name].index]
    far_left, far_right, lower = neighbours["left"], neighbours["right"], neighbours["cross"]
    upper = [far_left, left_of_main, right_of_main, far_right]

    def below_cross(panel, goes_on):
        """Keeps the jump of a seam that goes on below the cross seam, drops it where the seam ends there."""
        kept = {key: panel[key] - base[key] + lower[key] for key in base}
        kept["other"] = lower["other"]
        return {key: torch.where(goes_on > 0, kept[key], lower[key]) for key in base}

    goes_on = (scene.left_goes_on, 1 + zero, scene.main_goes_on, scene.main_goes_on)
    under = [below_cross(panel, on) for panel, on in zip(upper, goes_on)]
    pocket, _ = beyond(base, 1 + zero, zero)
    waistband, _ = beyond(base, 1 + zero, zero)
    grain = draws.uniform()
    waistband["turn"] = base["turn"] + 1.5708 * (grain < 0.45).float()
    panels = upper + under + [pocket, waistband]

    right_of_main = (scene.main_level > 0).long()
    number = torch.where(right_of_main > 0, 2 + scene.right_of_slot.long(), 1 - scene.left_of_slot.long())
    number = number + 4 * (scene.below > 0).long()
    number = torch.where(scene.in_waistband > 0, torch.full_like(number, WAISTBAND), number)
    number = torch.where(scene.in_pocket > 0, torch.full_like(number, POCKET), number)
    flat_number = number.reshape(draws.count, -1)

    def at_pixel(key):
        values = torch.cat([panel[key].view(draws.count, 1) for panel in panels], 1)
        return torch.gather(values, 1, flat_number).view(draws.count, draws.height, draws.width)

    # Some cloth follows the seam's curve, as lines do at a chevron.
    follows = torch.maximum(scene.chevron, draws.chance(0.25))
    across = scene.X - follows * (scene.main_x - scene.main_start) - scene.main_start
    slope = at_pixel("slope")
    u = scene.Y + slope * across
    v = across - slope * scene.Y * draws.chance(0.6)
    u, v = turned(u, v, at_pixel("turn"))
    slip = at_pixel("slip") * torch.tanh((scene.Y - at_pixel("slip_at")) / 60)
    scene.u = u * (1 + at_pixel("stretch")) + at_pixel("u") + slip
    scene.v = v + at_pixel("v")
    scene.other = at_pixel("other")
