"""What is not the seam: ground beyond the cloth, a sleeve, cards, tapes, hands, pins and cords, and the light."""
import torch
import torch.nn.functional as F

from cloth import palette
from draws import TURN, along, bell, step, turned


def add_clutter(scene):
    for part in scene.some(0.08, among=scene.lively):
        _sleeve(part)
    _ground(scene)
    for _ in range(2):
        for part in scene.some(0.14):
            _slip_of_paper(part)
    for part in scene.some(0.31, among=scene.closeup):
        _card(part)
    for part in scene.some(0.03, among=scene.lively):
        _card(part)
    for part in scene.some(0.13):
        _tape_measure(part)
    for _ in range(2):
        for part in scene.some(0.07):
            _hand(part)
    for _ in range(3):
        for part in scene.some(0.07):
            _pin_or_cord(part)


def _somewhere(draws, scene, reach=0.48):
    """Coordinates from a place in the picture."""
    x = scene.x - draws.uniform(-reach, reach) * draws.width
    y = scene.y - draws.uniform(-reach, reach) * draws.height
    return x, y


def _sleeve(scene):
    """Another part of the garment lies on the cloth: its edge casts a shadow and is no seam."""
    draws, x, y = scene.draws, scene.x, scene.y
    on = scene.on
    angle = scene.angle + draws.normal(0.25) + 3.1416 * draws.chance(0.5)
    across, t = turned(x, y, angle)
    inside = across - draws.uniform(0.1, 0.42) * draws.long_side * 0.75 + along(draws.path(), t) * 0.6
    lying = draws.normal(0.5)
    u, v = turned(scene.Y, scene.X, lying)
    own = scene.cloth.colour_at(u + draws.uniform(0, 300), v + draws.uniform(0, 300), 0 * u)
    rounding = draws.uniform(0.2, 1.2) * torch.exp(-inside.clamp(min=0) / draws.log_uniform(5, 45))
    own = own * torch.exp(-rounding)[:, None] * draws.uniform(0.6, 1.1)[:, None]
    shadow = on * draws.uniform(0.1, 0.7) * torch.exp(inside.clamp(max=0) / draws.log_uniform(3, 30))
    scene.image = scene.image * (1 - shadow)[:, None]
    scene.cover(on * step(inside, 1.5), own)
    scene.hide(on * (inside > -1).float())


def _ground(scene):
    """The table, bed or skin beyond the garment's outline."""
    draws, x, y = scene.draws, scene.x, scene.y
    inside = torch.full_like(scene.shade, 1e3)
    scene.inside = inside
    for side in range(4):
        likely = torch.maximum(scene.lively, draws.chance(0.4))
        for part in scene.some(0.21, among=likely):
            _outline(part, side)
    for part in scene.some(0.07, among=scene.main_on * torch.maximum(scene.lively, draws.chance(0.3))):
        _split(part)
    inside = scene.inside

    colour = palette(draws, 2)[:, 0].view(-1, 3, 1, 1)
    uneven = draws.field(200) * draws.uniform(0, 0.12) + draws.field(14) * draws.uniform() ** 2 * 0.15
    boards, _ = turned(x, y, 2 * scene.angle + 0.3)
    board = step(torch.sin(boards * (TURN / draws.log_uniform(8, 160))) - draws.uniform(-0.3, 0.95), 8.0)
    uneven = uneven + draws.chance(0.35) * draws.uniform(0, 0.3) * board
    ground = colour * (1 + uneven[:, None])
    shadow = draws.uniform(0, 0.7) * torch.exp(-(-inside).clamp(min=0) / draws.log_uniform(2, 30))
    ground = ground * (1 - shadow)[:, None]
    hem = bell(inside - draws.log_uniform(1, 14), 1.2) + bell(inside, 2.0)
    hem = (draws.chance(0.5) * draws.uniform(0, 0.5) * hem).clamp(0, 0.8)
    scene.image = scene.image * (1 - hem)[:, None]
    scene.cover(step(-inside, 1.5), ground)
    scene.hide((inside <= 0).float())


def _outline(scene, side):
    """One edge of the garment: left, right, above, below; straight, wavy or with sloping shoulders."""
    draws = scene.draws
    across, t, extent = ((scene.x, scene.y, draws.width), (scene.y, scene.x, draws.height))[side // 2]
    sign = 1 - 2 * (side % 2)
    level = sign * (across - along(draws.path(), t) * 0.8) + (0.5 - draws.uniform(0, 0.33)) * extent
    shoulder = 0.9 * (t.abs() - draws.uniform(0.1, 0.4) * draws.long_side * 0.8).clamp(min=0)
    level = level - draws.chance(0.25) * shoulder
    scene.inside = torch.where(scene.on > 0, torch.minimum(scene.inside, level), scene.inside)


def _split(scene):
    """The ground seen through a vent, an open front or between two legs, at the end of the main seam."""
    draws = scene.draws
    start = draws.uniform(-0.1, 0.45) * draws.long_side
    opening = ((scene.Y - start) * (1 - 2 * draws.chance(0.4))).clamp(min=-5)
    level = scene.main_level.abs() - draws.uniform(0.1, 0.7) * opening
    scene.inside = torch.where(scene.on > 0, torch.minimum(scene.inside, level), scene.inside)


def _lay(scene, on, level, colour, reach=4.0):
    """Lays a flat thing on the cloth: a soft shadow round it, and no truth below it."""
    shadow = on * 0.35 * torch.exp(-level.clamp(min=0) / reach)
    scene.image = scene.image * (1 - shadow)[:, None]
    scene.cover(on * step(-level, 2.0), colour)
    scene.hide(on * (level < 0).float())


def _slip_of_paper(scene):
    """Labels, price tags, scraps, patches: plain or with blotches."""
    draws, on = scene.draws, scene.on
    x, y = turned(*_somewhere(draws, scene), draws.normal(0.15) + draws.chance(0.2) * draws.uniform(-0.8, 0.8))
    half_width, half_height = draws.log_uniform(8, 75), draws.log_uniform(6, 60)
    level = torch.maximum(x.abs() - half_width, y.abs() - half_height)
    colour = draws.colour() * (1 - 0.7 * draws.chance(0.5))[:, None]
    colour = torch.where(draws.chance(0.7)[:, None] > 0, 0.75 + 0.25 * colour, colour)
    blotch = _squares(draws, x / half_width * 1.3, y / half_height * 1.3, 21) * draws.chance(0.5)
    _lay(scene, on, level, colour * (1 - 0.85 * blotch[:, None]))


def _squares(draws, x, y, count):
    """Random black squares, `count` a side, where x and y are within -1..1."""
    pattern = (torch.randn((draws.count, 1, count, count), device=draws.device) > 0).float()
    place = torch.stack((x, y), -1).clamp(-1.6, 1.6)
    return F.grid_sample(pattern, place, mode="nearest", padding_mode="zeros", align_corners=False)[:, 0]


def _card(scene):
    """A printed card: white paper, a square symbol of small squares with three corner marks, maybe words below."""
    draws, on = scene.draws, scene.on
    angle = draws.normal(0.12) + draws.chance(0.3) * draws.uniform(-0.8, 0.8)
    x, y = turned(*_somewhere(draws, scene), angle)
    half = draws.log_uniform(26, 95)
    words_below = draws.chance(0.3) * draws.uniform(0.2, 0.8) * half
    level = torch.maximum(x.abs() - half, torch.maximum(-y - half, y - half - words_below))
    symbol_half = half * draws.uniform(0.68, 0.86)
    sx, sy = x / symbol_half, y / symbol_half
    ink = _squares(draws, sx, sy, 25)
    for corner_x, corner_y in ((-1, -1), (1, -1), (-1, 1)):
        ring = 12.5 * torch.maximum((sx - corner_x * 0.72).abs(), (sy - corner_y * 0.72).abs())
        mark = ((ring < 1.5) | ((ring > 2.5) & (ring < 3.5))).float()
        ink = torch.where(ring < 4.5, mark, ink)
    words = step(torch.sin(y * (TURN / draws.log_uniform(5, 12))) - 0.2, 6.0)
    words = words * (draws.field(6) > -0.3).float() * (y > half).float() * (x.abs() < half * 0.8).float()
    paper = draws.grey(0.72, 1.0) * (1 + draws.colour(-0.05, 0.05))
    ink = torch.maximum(ink * (torch.maximum(sx.abs(), sy.abs()) < 1).float(), words)
    _lay(scene, on, level, paper * (1 - draws.uniform(0.75, 0.97) * ink)[:, None])


def _tape_measure(scene):
    """A tape or ruler lying along the seam, across it, or anywhere; ticks of three lengths."""
    draws, on = scene.draws, scene.on
    angle = scene.angle + draws.uniform(0, 4).floor() * 1.5708 + draws.normal(0.1)
    x, y = turned(*_somewhere(draws, scene), angle)
    half_width = draws.log_uniform(7, 40)
    half_length = torch.where(draws.chance(0.75) > 0, 2000 + 0 * half_width, draws.log_uniform(80, 400))
    y = y + draws.normal(0.06) / draws.long_side * x * x
    level = torch.maximum(x.abs() - half_length, y.abs() - half_width)
    pitch = draws.log_uniform(3, 14)
    from_edge = (half_width - y * draws.sign()) / half_width
    ink = torch.zeros_like(level)
    for every, reach in ((1, 0.35), (5, 0.6), (10, 0.9)):
        spacing = pitch * every
        off_tick = torch.remainder(x, spacing) - spacing / 2
        ink = torch.maximum(ink, step(0.7 - off_tick.abs(), 3.0) * (from_edge < reach).float())
    yellow = torch.tensor([0.95, 0.85, 0.45], device=draws.device).view(1, 3, 1, 1)
    colour = torch.where(draws.chance(0.5)[:, None] > 0, yellow * draws.grey(0.6, 1.05), draws.colour(0.55, 1))
    colour = torch.where(draws.chance(0.15)[:, None] > 0, draws.colour(), colour)
    _lay(scene, on, level, colour * (1 - draws.uniform(0.4, 0.9) * ink)[:, None])


def _hand(scene):
    """Fingers reaching in: rounded bars side by side, each with a nail; or the back of a hand."""
    draws, on = scene.draws, scene.on
    x, y = turned(*_somewhere(draws, scene, 0.5), draws.uniform(0, TURN))
    radius = draws.log_uniform(10, 48)
    tone = torch.tensor([0.85, 0.62, 0.5], device=draws.device).view(1, 3, 1, 1)
    tone = tone * draws.grey(0.3, 1.1) * (1 + draws.colour(-0.08, 0.08))
    fingers = draws.uniform(1, 4.99).floor()
    for number in range(4):
        shown = on * (fingers > number).float()
        base = (number - 1.5) * 2.05 * radius
        fanned = y - base - draws.normal(0.06) * x
        tip = x - radius * draws.uniform(-0.8, 0.8)
        level = torch.sqrt(tip.clamp(max=0) ** 2 + fanned**2 + 1e-6) - radius
        roundness = 1.08 - 0.5 * ((level + radius) / radius).clamp(0, 1) ** 3
        knuckle = 1 - 0.12 * bell(tip - radius * 2.2, radius * 0.12)
        _lay(scene, shown, level, tone * (roundness * knuckle)[:, None], 6.0)
        nail = torch.sqrt(((tip + 0.15 * radius) / 0.6) ** 2 + (fanned / 0.62) ** 2 + 1e-6) - radius * 0.85
        scene.cover(shown * step(-nail, 1.0) * draws.chance(0.7) * 0.5, (tone * 1.2 + 0.08).clamp(0, 1))


def _pin_or_cord(scene):
    draws, on = scene.draws, scene.on
    t, across = turned(*_somewhere(draws, scene, 0.4), draws.uniform(0, 3.14))
    reach = draws.log_uniform(10, 90)
    bar = step(draws.log_uniform(0.6, 3) - across.abs(), 2.0) * step(reach - t.abs(), 2.0)
    scene.cover(on * bar, draws.colour())
    head = torch.sqrt(across**2 + (t - reach) ** 2 + 1e-6)
    scene.cover(on * step(draws.log_uniform(2, 6) - head, 2.0) * draws.chance(0.6), draws.colour())


def light(scene):
    """Uneven light, the edges of cast shadows, the camera's colours and contrast."""
    draws, x, y = scene.draws, scene.x, scene.y
    slope, _ = turned(x, y, draws.uniform(0, TURN))
    amount = draws.field(260) * draws.uniform(0, 0.3) + draws.normal(0.35) * slope / draws.long_side
    corner = (x * x + y * y) / draws.long_side**2
    amount = amount - draws.chance(0.3) * draws.uniform(0, 2.0) * corner
    scene.light = amount
    for _ in range(2):
        for part in scene.some(0.2):
            _shadow_edge(part)
    image = scene.image.clamp(0, 1.5) * torch.exp(scene.light)[:, None]
    # A camera chooses its own exposure, though not always well.
    middle = image.mean((1, 2, 3), keepdim=True)
    exposure = (0.42 / middle.clamp(min=0.02)).clamp(0.6, 4.0) ** draws.uniform(0, 1.0)[:, None]
    image = image * exposure * draws.log_uniform(0.6, 1.4)[:, None]
    image = image * (1 + 0.1 * torch.randn_like(image[:, :, :1, :1]))
    grey = image.mean(1, keepdim=True)
    image = grey + (image - grey) * draws.log_uniform(0.3, 1.5)[:, None]
    image = image.clamp(0, 1) ** draws.log_uniform(0.7, 1.45)[:, None]
    haze = draws.uniform(0, 0.12)[:, None]
    scene.image = haze * draws.chance(0.3)[:, None] + image * (1 - haze)


def _shadow_edge(scene):
    draws = scene.draws
    edge, _ = turned(scene.x, scene.y, draws.uniform(0, TURN))
    edge = edge + draws.normal(0.2) * draws.long_side + 20 * draws.field(150) * draws.uniform()
    softness = draws.log_uniform(1.2, 60)
    scene.light = scene.light - draws.uniform(0.1, 0.8) * step(edge / softness, 1.0)
