//! Chance scenes by kind: what real cloth and real photographs bring, one thing at a time, on the plain chance seams.

use super::seams::{self, Dice};
use seamstep::conventions::Runs;
use seamstep::render::{Band, Camera, Cloth, Edges, Messenger, OffsetProfile, Scene, ShadowEdge, Slip, Step, Weave};
use std::f64::consts::FRAC_PI_2;

/// What a chance scene is about. Widths and angles are common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The chance seam of [`seams::seam`].
    Plain,
    /// A mirrored sett of 60 to 180 mm with broad bands and twin lines.
    Tartan,
    /// Many bands without symmetry, 60 to 200 mm.
    Madras,
    /// Two colours in equal bands of 3 to 12 mm, warp as weft.
    Gingham,
    /// A hip's curve of 6 to 16 mm in 20 cm.
    Curved,
    /// Lines displaced beside the seam by 0.8 to 2.5 mm.
    Draped,
    /// A lens that distorts by 0.5 to 2 % in the picture's corner.
    Lens,
    /// Both sides cut on the bias alike, 35 to 55 degrees.
    Bias,
    /// Lines that meet at the seam in a V, 18 to 45 degrees from square to it.
    Chevron,
    /// 0.5 to 2 mm a pixel, enlarged 1.5 to 3 times and written as JPEG again.
    Messenger,
    /// Faint lines in little light, and the edge of a shadow along the seam.
    Shade,
    /// 60 to 150 pixels of seam.
    Short,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Plain,
        Self::Tartan,
        Self::Madras,
        Self::Gingham,
        Self::Curved,
        Self::Draped,
        Self::Lens,
        Self::Bias,
        Self::Chevron,
        Self::Messenger,
        Self::Shade,
        Self::Short,
    ];
}

/// Scene `number` of a kind: the plain chance seam of this number with what the kind is about, the same at every call.
pub fn scene(kind: Kind, number: u64) -> Scene {
    let mut scene = seams::seam(number);
    // A stream of its own for every kind; the plain seam's is the number itself.
    let mut dice = Dice::new(number ^ ((kind as u64) << 40));
    match kind {
        Kind::Plain => {}
        Kind::Tartan => dress(&mut scene, tartan(&mut dice), &mut dice),
        Kind::Madras => dress(&mut scene, madras(&mut dice), &mut dice),
        Kind::Gingham => dress(&mut scene, gingham(&mut dice), &mut dice),
        Kind::Curved => curve(&mut scene, &mut dice),
        Kind::Draped => scene.seam.drape_mm = dice.within(0.8, 2.5),
        Kind::Lens => scene.camera.barrel = dice.sign() * dice.within(0.005, 0.02),
        Kind::Bias => bias(&mut scene, &mut dice),
        Kind::Chevron => chevron(&mut scene, &mut dice),
        Kind::Messenger => send(&mut scene, &mut dice),
        Kind::Shade => shade(&mut scene, &mut dice),
        Kind::Short => shorten(&mut scene, &mut dice),
    }
    scene
}

/// The scene in another cloth, with a jump of its own that goes with the cloth's repeat along the seam.
fn dress(scene: &mut Scene, cloth: Cloth, dice: &mut Dice) {
    scene.seam.cloth = cloth;
    let repeat_mm = scene.seam.cloth.repeat_mm().expect("lines") / scene.seam.turn_rad[0].cos();
    let mut offset = dice.offset((0.45 * repeat_mm).min(6.0));
    if offset.slips.is_empty() && offset.steps.is_empty() && dice.chance(0.3) {
        let (at_mm, size_mm) = (dice.within(-25.0, 25.0), dice.within(0.8, 3.0).min(0.35 * repeat_mm));
        let amount_mm = dice.sign() * size_mm;
        if dice.chance(0.5) {
            // A steeper one would fold the cloth over.
            let over_mm = dice.within(2.0, 8.0).max(1.2 * size_mm);
            offset.steps.push(Step { at_mm, amount_mm, over_mm });
        } else {
            offset.slips.push(Slip { at_mm, amount_mm, half_width_mm: dice.within(6.0, 12.0) });
        }
    }
    scene.seam.offset = offset;
}

/// Whole threads, two or more, about so wide, millimetres.
fn threads(mm: f64, thread_mm: f64) -> f64 {
    (mm / thread_mm).round().max(2.0) * thread_mm
}

/// Colours that can be told from the one before them, round in a circle too.
fn palette(dice: &mut Dice, count: usize) -> Vec<[u8; 3]> {
    let mut colours = vec![dice.colour()];
    while colours.len() < count {
        let mut colour = dice.other_colour(colours[colours.len() - 1]);
        if colours.len() + 1 == count {
            let apart = |a: [u8; 3], b: [u8; 3]| (0..3).map(|c| u32::from(a[c].abs_diff(b[c]))).sum::<u32>();
            while apart(colour, colours[0]) <= 75 {
                colour = dice.other_colour(colours[colours.len() - 1]);
            }
        }
        colours.push(colour);
    }
    colours
}

/// The same repeat begun `by_mm` later.
fn begun(bands: &[Band], by_mm: f64) -> Vec<Band> {
    let repeat_mm: f64 = bands.iter().map(|band| band.width_mm).sum();
    let mut left_mm = by_mm.rem_euclid(repeat_mm);
    let mut before = Vec::new();
    for (k, band) in bands.iter().enumerate() {
        if left_mm < band.width_mm {
            let part = |width_mm: f64| Band { width_mm, ..*band };
            let rest = [part(band.width_mm - left_mm)].into_iter().chain(bands[k + 1..].iter().copied());
            let whole = rest.chain(before).chain([part(left_mm)]);
            return whole.filter(|band| band.width_mm > 0.01).collect();
        }
        left_mm -= band.width_mm;
        before.push(*band);
    }
    bands.to_vec()
}

/// A mirrored order of bands, begun in the middle of one pivot: what stands from there to the middle of the other, and back.
fn mirrored(half: &[Band]) -> Vec<Band> {
    half.iter().chain(half.iter().rev()).copied().collect()
}

/// A mirrored sett, begun in the middle of a pivot.
fn sett(dice: &mut Dice, thread_mm: f64, colours: &[[u8; 3]]) -> Vec<Band> {
    let repeat_mm = dice.within(60.0, 180.0);
    // Two pivots, and between them bands that the mirror shows twice.
    let pivots_mm = [dice.within(15.0, 40.0), dice.within(15.0, 40.0)];
    let rest_mm = (repeat_mm - pivots_mm[0] - pivots_mm[1]) / 2.0;
    let inner = (rest_mm / 25.0).round().max(0.0) as usize;
    // Without an inner band the pivots fill the repeat, which two bands of 40 mm do up to 80 mm.
    let stretch = if inner == 0 { (repeat_mm.min(80.0) / (pivots_mm[0] + pivots_mm[1])).max(1.0) } else { 1.0 };
    let mut half = Vec::new();
    for k in 0..inner + 2 {
        let ground = colours[k % 2];
        let twin = colours[2 % colours.len() + k % (colours.len() - 2).max(1)];
        let band = |mm: f64, colour| Band { width_mm: threads(mm, thread_mm), colour };
        let (line_mm, apart_mm) = (dice.within(0.8, 2.2), dice.within(2.0, 4.0));
        let twins = dice.chance(0.7);
        let first = k == 0;
        if first || k == inner + 1 {
            // Half a pivot; its twin lines stand to either side of its middle.
            let width_mm = stretch * pivots_mm[usize::from(!first)] / 2.0;
            let mut part = vec![band(width_mm, ground)];
            if twins {
                let rest_mm = width_mm - line_mm - apart_mm / 2.0;
                part = vec![band(apart_mm / 2.0, ground), band(line_mm, twin), band(rest_mm, ground)];
            }
            if !first {
                part.reverse();
            }
            half.extend(part);
        } else {
            let width_mm = (rest_mm / inner as f64).clamp(15.0, 40.0);
            let side_mm = (width_mm - 2.0 * line_mm - apart_mm) / 2.0;
            if twins {
                let line = band(line_mm, twin);
                half.extend([band(side_mm, ground), line, band(apart_mm, ground), line, band(side_mm, ground)]);
            } else {
                half.push(band(width_mm, ground));
            }
        }
    }
    mirrored(&half)
}

/// A tartan: warp and weft of one sett in four of five cloths.
fn tartan(dice: &mut Dice) -> Cloth {
    let thread_mm = dice.within(0.3, 0.55);
    let count = 3 + dice.whole(4) as usize;
    let colours = palette(dice, count);
    let weft = sett(dice, thread_mm, &colours);
    let warp = if dice.chance(0.8) { weft.clone() } else { sett(dice, thread_mm, &colours) };
    let begin_mm = dice.within(0.0, 200.0);
    let texture = dice.within(0.6, 1.4);
    Cloth { weave: Weave::Twill, thread_mm, weft: begun(&weft, begin_mm), warp, texture }
}

/// A madras: many bands in no order.
fn madras(dice: &mut Dice) -> Cloth {
    let thread_mm = dice.within(0.22, 0.35);
    let count = 5 + dice.whole(4) as usize;
    let colours = palette(dice, count);
    let bands = |dice: &mut Dice| {
        let (repeat_mm, mut woven_mm, mut last) = (dice.within(60.0, 200.0), 0.0, 0);
        let mut bands = Vec::new();
        while woven_mm < repeat_mm - 2.0 {
            let broad = dice.chance(0.4);
            let width_mm = if broad { dice.within(6.0, 20.0) } else { dice.within(1.0, 5.0) };
            let width_mm = threads(width_mm.min(repeat_mm - woven_mm), thread_mm);
            last = (last + 1 + dice.whole(count as u32 - 1) as usize) % count;
            bands.push(Band { width_mm, colour: colours[last] });
            woven_mm += width_mm;
        }
        bands
    };
    let weft = bands(dice);
    let warp = if dice.chance(0.6) { weft.clone() } else { bands(dice) };
    let begin_mm = dice.within(0.0, 200.0);
    let texture = dice.within(0.5, 1.3);
    Cloth { weave: Weave::Plain, thread_mm, weft: begun(&weft, begin_mm), warp, texture }
}

/// A gingham, begun in the middle of a band: symmetric there.
fn gingham(dice: &mut Dice) -> Cloth {
    let thread_mm = dice.within(0.2, 0.35);
    let white = [dice.within(222.0, 242.0) as u8; 3];
    let colour = dice.other_colour(white);
    let half_mm = threads(dice.within(1.5, 6.0), thread_mm);
    let bands = mirrored(&[Band { width_mm: half_mm, colour: white }, Band { width_mm: half_mm, colour }]);
    Cloth { weave: Weave::Plain, thread_mm, weft: bands.clone(), warp: bands, texture: dice.within(0.5, 1.2) }
}

/// A hip's curve; in three of four the cloth is cut curved, in the others bent in its plane.
fn curve(scene: &mut Scene, dice: &mut Dice) {
    let seam = &mut scene.seam;
    seam.bow_mm = dice.sign() * dice.within(6.0, 16.0);
    seam.straight_grain = dice.chance(0.75);
    seam.slope = [0.0; 2];
    seam.aside_mm *= 0.5;
    seam.lean_rad *= 0.4;
}

/// Both sides cut on the bias alike, from a check.
fn bias(scene: &mut Scene, dice: &mut Dice) {
    let turn = dice.sign() * dice.within(35.0, 55.0).to_radians();
    turned(scene, [turn; 2]);
    let mut cloth = match dice.whole(5) {
        0 => tartan(dice),
        1 => madras(dice),
        _ => gingham(dice),
    };
    let begin_mm = dice.within(0.0, 200.0);
    cloth.warp = begun(&cloth.warp, begin_mm);
    dress(scene, cloth, dice);
}

/// A chevron of stripes, or of a mirrored check whose lines along meet at the seam too.
fn chevron(scene: &mut Scene, dice: &mut Dice) {
    let turn = dice.sign() * dice.within(18.0, 45.0).to_radians();
    turned(scene, [-turn, turn]);
    let mut cloth = match dice.whole(5) {
        0 => tartan(dice),
        1 => gingham(dice),
        _ => {
            let mut stripes = dice.cloth();
            stripes.warp.truncate(1);
            stripes
        }
    };
    // Seen from the seam one side's lines along are the other's in a mirror: begun later, they are out of step by twice that.
    let begin_mm = threads(dice.within(0.0, 200.0), cloth.thread_mm);
    if cloth.warp.len() > 1 {
        cloth.warp = begun(&cloth.warp, begin_mm);
        scene.seam.warp_shift_mm = -2.0 * begin_mm;
    }
    dress(scene, cloth, dice);
}

/// Turned cloth: nothing else slants its lines, and the sides touch.
fn turned(scene: &mut Scene, turn_rad: [f64; 2]) {
    let seam = &mut scene.seam;
    (seam.turn_rad, seam.slope, seam.warp_shift_mm, seam.zip) = (turn_rad, [0.0; 2], 0.0, None);
}

/// A small picture of much cloth, enlarged again.
fn send(scene: &mut Scene, dice: &mut Dice) {
    let mm_per_px = 0.5 * 4.0_f64.powf(dice.within(0.0, 1.0));
    let (shown_mm, ratio) = (dice.within(150.0, 260.0), dice.within(0.65, 0.85));
    let upright = scene.camera.height_px > scene.camera.width_px;
    let [long, short] = [shown_mm, shown_mm * ratio].map(|mm| (mm / mm_per_px) as u32);
    let (width_px, height_px) = if upright { (short, long) } else { (long, short) };
    let messenger = Messenger { enlarged: dice.within(1.5, 3.0), jpeg_quality: 60 + dice.whole(31) as u8 };
    scene.camera = Camera {
        width_px,
        height_px,
        mm_per_px,
        focal_px: 1.1 * f64::from(long),
        messenger: Some(messenger),
        ..scene.camera.clone()
    };
    unencumbered(scene);
    let cloth = if dice.chance(0.5) {
        tartan(dice)
    } else {
        let repeat_mm = mm_per_px * dice.within(8.0, 40.0);
        dice.cloth().with_repeat(repeat_mm)
    };
    dress(scene, cloth, dice);
}

/// A level camera, no card, and cloth to the picture's edges.
fn unencumbered(scene: &mut Scene) {
    scene.camera.tilt_rad = 0.0;
    scene.seam.cards.clear();
    scene.seam.edges = Edges::default();
}

/// Faint lines in little light; one side of the seam in shade.
fn shade(scene: &mut Scene, dice: &mut Dice) {
    unencumbered(scene);
    let (seam, camera) = (&mut scene.seam, &mut scene.camera);
    seam.bow_mm *= 0.25;
    let kept = dice.within(0.12, 0.5);
    let ground = seam.cloth.weft[0].colour;
    for band in seam.cloth.weft.iter_mut().chain(&mut seam.cloth.warp) {
        let faded = |c: usize| f64::from(ground[c]) + kept * (f64::from(band.colour[c]) - f64::from(ground[c]));
        band.colour = [0, 1, 2].map(|c| faded(c).round() as u8);
    }
    camera.light.exposure = dice.within(0.35, 0.8);
    camera.light.unevenness = dice.within(0.1, 0.4);
    // The seam's normal, towards growing v, and how far the picture's middle is from it.
    let normal_rad = seam.lean_rad - if seam.runs == Runs::Down { 0.0 } else { FRAC_PI_2 };
    let away_mm = seam.aside_mm * seam.lean_rad.cos() + dice.within(-1.0, 1.0);
    let half_diagonal_mm = f64::from(camera.width_px).hypot(f64::from(camera.height_px)) / 2.0 * camera.mm_per_px;
    let second_in_shade = dice.chance(0.5);
    camera.light.shadow = Some(ShadowEdge {
        distance: away_mm / half_diagonal_mm * if second_in_shade { 1.0 } else { -1.0 },
        towards_rad: normal_rad + if second_in_shade { 0.0 } else { 2.0 * FRAC_PI_2 },
        depth: dice.within(0.3, 0.7),
        softness_px: dice.within(1.0, 8.0),
    });
}

/// Little of the seam: a picture cut short, or a piece that ends.
fn shorten(scene: &mut Scene, dice: &mut Dice) {
    unencumbered(scene);
    let cloth = scene.seam.cloth.clone().with_repeat(dice.within(4.0, 12.0));
    let along_px = dice.within(60.0, 150.0);
    let (seam, camera) = (&mut scene.seam, &mut scene.camera);
    let most_mm = 0.45 * cloth.repeat_mm().expect("lines");
    seam.offset = OffsetProfile::constant(most_mm * dice.sign() * dice.within(0.0, 1.0).powi(2));
    (seam.cloth, seam.pins) = (cloth, Vec::new());
    if dice.chance(0.5) {
        let side_px = if seam.runs == Runs::Down { &mut camera.height_px } else { &mut camera.width_px };
        *side_px = along_px as u32;
    } else {
        let half_mm = along_px / 2.0 * camera.mm_per_px;
        (seam.edges.waist_mm, seam.edges.hem_mm) = (Some(-half_mm), Some(half_mm));
    }
}
