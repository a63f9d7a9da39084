//! How well would seams like these be measured? [`TrialRequest`] → [`Trial`].
//!
//! Seams of known offset are sewn in the user's cloth and photographed under the user's conditions by the project's own
//! renderer ([`crate::render`]), each at every distance asked for ([`scenes`]). Each photograph walks the corridor that a
//! user's photograph walks, the printed card beside the seam and the seam looked for ([`crate::inspect`]), and what was
//! measured is set beside the truth ([`outcome`]). Told from that: how wrong, how sure, how many refused ([`figures`]),
//! and how close to hold the camera ([`sweep`]). `each` spreads the work; the same seed gives the same trial, whatever
//! the number of threads. [`cloth_file`] reads a cloth from a description.

pub mod cloth_file;

pub mod scenes;

pub mod outcome;

pub mod figures;

pub mod sweep;

pub mod each;

use crate::problem::Problem;
use crate::render::Cloth;
use crate::verdict::Demand;
use each::each;
use figures::Figures;
use outcome::Outcome;
pub use scenes::Lighting;
use sweep::Closeness;

/// Most photographs of one trial.
pub const MOST_PHOTOGRAPHS: usize = 100_000;
/// Most pixels of one rendered photograph.
pub const MOST_PIXELS: f64 = 12e6;
/// Pixels that are rendered at the same time, at most: a pixel takes about 40 bytes while it is rendered and measured.
const MOST_PIXELS_AT_ONCE: f64 = 50e6;
/// The default number of seams at each distance.
pub const USUAL_SEAMS: usize = 10;
/// The default distances, millimetres to a pixel.
pub const USUAL_MM_PER_PX: [f64; 3] = [0.1, 0.2, 0.3];

/// What is tried.
#[derive(Clone, Debug)]
pub struct TrialRequest {
    /// The cloth of both sides; its weft crosses the seam.
    pub cloth: Cloth,
    /// How it lies and how it is photographed.
    pub conditions: Conditions,
    /// Distances at which every seam is photographed, as millimetres to a pixel.
    pub mm_per_px: Vec<f64>,
    /// Seams, each of its own offset, lean, drape and light; each is photographed at every distance.
    pub seams: usize,
    /// Decides everything that chance decides.
    pub seed: u64,
    /// Whether the seam's place is given, as a user draws it (three points, each up to half a millimetre out); else it
    /// is looked for.
    pub seam_drawn: bool,
    /// What the seams are judged by.
    pub demand: Demand,
    /// Threads to use, at least 1; they change the time it takes and nothing else.
    pub threads: usize,
}

/// How the cloth lies and how it is photographed. Every photograph has the same of each; chance decides the rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// Length of seam in the picture, millimetres.
    pub seam_mm: f64,
    /// Angle between the camera's axis and the cloth's normal; its direction is chance.
    pub tilt_rad: f64,
    /// The light.
    pub light: Lighting,
    /// Pins across the seam.
    pub pins: usize,
    /// How far the drape displaces the lines beside the seam, millimetres.
    pub drape_mm: f64,
    /// How far the offset wanders to either side of its mean along the seam, millimetres.
    pub wander_mm: f64,
    /// Gaussian defocus beside the lens's own, standard deviation, pixels.
    pub blur_px: f64,
    /// Standard deviation of the shot noise where the sensor is full, in linear light of 0 to 1, in even light.
    pub noise: f64,
}

impl Default for Conditions {
    /// A steady hand above smoothed cloth in even daylight.
    fn default() -> Self {
        Self {
            seam_mm: 160.0,
            tilt_rad: 8f64.to_radians(),
            light: Lighting::Even,
            pins: 0,
            drape_mm: 0.2,
            wander_mm: 0.3,
            blur_px: 0.4,
            noise: 0.012,
        }
    }
}

impl TrialRequest {
    /// A trial of a cloth with everything else as usual.
    pub fn new(cloth: Cloth) -> Self {
        Self {
            cloth,
            conditions: Conditions::default(),
            mm_per_px: USUAL_MM_PER_PX.to_vec(),
            seams: USUAL_SEAMS,
            seed: 1,
            seam_drawn: false,
            demand: Demand::default(),
            threads: crate::threads::usual(),
        }
    }

    /// The tolerance that the seams are judged by, millimetres.
    pub fn tolerance_mm(&self) -> f64 {
        self.demand.tolerance().0
    }

    /// Whether it can be tried.
    ///
    /// # Errors
    /// [`Problem::Usage`] with the figure that cannot be, and what can.
    pub fn check(&self) -> Result<(), Problem> {
        self.demand.check()?;
        let c = &self.conditions;
        let within = |x: f64, low: f64, high: f64| (low..=high).contains(&x);
        let facts = [
            ("--length", c.seam_mm, 60.0, 600.0, "millimetres of seam"),
            ("--tilt", c.tilt_rad.to_degrees(), 0.0, 45.0, "degrees"),
            ("--pins", c.pins as f64, 0.0, 50.0, "pins"),
            ("--drape", c.drape_mm, 0.0, 10.0, "millimetres"),
            ("--wander", c.wander_mm, 0.0, 5.0, "millimetres"),
            ("--blur", c.blur_px, 0.0, 20.0, "pixels"),
            ("the noise", c.noise, 0.0, 0.5, "of full light"),
            ("--seams", self.seams as f64, 1.0, 10_000.0, "seams"),
            ("--threads", self.threads as f64, 1.0, 1024.0, "threads"),
        ];
        if let Some((name, value, low, high, what)) = facts.into_iter().find(|f| !within(f.1, f.2, f.3)) {
            let value = (value * 1e6).round() / 1e6;
            return Err(Problem::usage(
                format!("{name}: {value} is out of range"),
                format!("give {low} to {high} {what}"),
            ));
        }
        if self.mm_per_px.is_empty() || self.seams.saturating_mul(self.mm_per_px.len()) > MOST_PHOTOGRAPHS {
            return Err(Problem::usage(
                format!(
                    "--seams and --mm-per-px: {} seams at {} distances cannot be tried",
                    self.seams,
                    self.mm_per_px.len()
                ),
                format!("give one distance or more, and at most {MOST_PHOTOGRAPHS} photographs in all"),
            ));
        }
        self.mm_per_px.iter().try_for_each(|&mm_per_px| self.check_distance(mm_per_px))?;
        self.check_cloth()
    }

    /// Whether a photograph at this distance has a size that can be rendered.
    fn check_distance(&self, mm_per_px: f64) -> Result<(), Problem> {
        if !(0.01..=2.0).contains(&mm_per_px) {
            return Err(Problem::usage(
                format!("--mm-per-px: {mm_per_px} is out of range"),
                "give 0.01 to 2 mm to a pixel; a phone held 30 cm above the cloth sees about 0.1",
            ));
        }
        let pixels = scenes::pixels(&self.conditions, mm_per_px);
        if pixels > MOST_PIXELS {
            let least = mm_per_px * (pixels / MOST_PIXELS).sqrt();
            return Err(Problem::usage(
                format!(
                    "--mm-per-px: at {mm_per_px} mm to a pixel, {} mm of seam make a picture of {:.0} megapixels",
                    self.conditions.seam_mm,
                    pixels / 1e6
                ),
                format!(
                    "give {:.3} or more, or a shorter --length: {:.0} megapixels are the most",
                    (least * 1e3).ceil() / 1e3,
                    MOST_PIXELS / 1e6
                ),
            ));
        }
        Ok(())
    }

    /// Whether the cloth can be rendered; the renderer says what is wrong, on a picture that is quickly made.
    fn check_cloth(&self) -> Result<(), Problem> {
        let nothing = |bands: &[crate::render::Band]| bands.is_empty() || bands.len() > MOST_BANDS;
        if nothing(&self.cloth.weft) || nothing(&self.cloth.warp) {
            return Err(Problem::usage(
                "the cloth has no bands, or too many, across or along the seam",
                format!("describe one repeat with 1 to {MOST_BANDS} bands each way"),
            ));
        }
        let plain = TrialRequest { mm_per_px: vec![2.0], ..self.clone() };
        crate::render::render(&scenes::scene(&plain, 0, 2.0)).map(|_| ())
    }
}

/// Most bands of one repeat.
const MOST_BANDS: usize = 2000;

/// What a trial showed.
#[derive(Clone, Debug)]
pub struct Trial {
    /// What was tried, its distances in the order of the results, nearest first.
    pub request: TrialRequest,
    /// The largest offset that was sewn, millimetres; offsets are spread evenly from minus this to this.
    pub most_offset_mm: f64,
    /// What was measured at each distance.
    pub distances: Vec<Distance>,
    /// How close is close enough for the tolerance.
    pub closeness: Closeness,
}

/// What was measured at one distance.
#[derive(Clone, Debug)]
pub struct Distance {
    /// Millimetres to a pixel in the picture's middle.
    pub mm_per_px: f64,
    /// Each photograph beside its truth, in the order of the seams' numbers.
    pub outcomes: Vec<Outcome>,
    /// What they tell together.
    pub figures: Figures,
}

/// Renders and measures every photograph of the trial. `progress` is told how many are done, from any thread.
///
/// # Errors
/// [`Problem::Usage`] where the request cannot be tried ([`TrialRequest::check`]). Photographs that are refused are
/// counted and are no error.
pub fn run(request: &TrialRequest, progress: impl Fn(usize) + Sync) -> Result<Trial, Problem> {
    request.check()?;
    let mut request = request.clone();
    request.mm_per_px.sort_by(f64::total_cmp);
    request.mm_per_px.dedup();
    let largest = scenes::pixels(&request.conditions, request.mm_per_px[0]);
    let threads = request.threads.min((MOST_PIXELS_AT_ONCE / largest) as usize).max(1);
    let count = request.seams * request.mm_per_px.len();
    let outcomes = each(count, threads, progress, |k| {
        outcome::measure(&request, k % request.seams, request.mm_per_px[k / request.seams])
    })?;
    let mut outcomes = outcomes.into_iter();
    let tolerance_mm = request.tolerance_mm();
    let distances: Vec<Distance> = (request.mm_per_px.iter())
        .map(|&mm_per_px| {
            let outcomes: Vec<Outcome> = outcomes.by_ref().take(request.seams).collect();
            Distance { mm_per_px, figures: Figures::of(&outcomes, tolerance_mm), outcomes }
        })
        .collect();
    let closeness = sweep::closeness(&distances, tolerance_mm);
    Ok(Trial { most_offset_mm: scenes::most_offset_mm(&request), distances, closeness, request })
}
