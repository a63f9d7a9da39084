//! Photographs that the corridor has been walked with once: what each room is handed.

use image::imageops::{FilterType, resize};
use seamstep::finding::Finding;
use seamstep::inspect::{Question, inspect};
use seamstep::photo::{self, Limits, Photo};
use seamstep::render::{Camera, Card, CardFace, Cloth, OffsetProfile, Rendered, Scene, SeamScene, render};
use seamstep::report;
use seamstep::scale::{Plane, ScaleRequest};
use seamstep::seam::SeamRequest;
use seamstep::strip::{self, Strips};
use seamstep::units::PxPoint;
use std::sync::LazyLock;

/// Sizes of the picture, megapixels.
pub const SIZES_MP: [u32; 3] = [3, 12, 48];
/// Lengths of the seam that is given, millimetres.
pub const LENGTHS_MM: [u32; 4] = [60, 120, 240, 480];

/// A photograph with what the rooms make of it, the seam given.
pub struct Walked {
    pub jpeg: Vec<u8>,
    pub question: Question,
    pub photo: Photo,
    pub plane: Plane,
    pub strips: Strips,
    pub finding: Finding,
}

impl Walked {
    fn new(jpeg: Vec<u8>, seam_px: Vec<PxPoint>) -> Self {
        let seam = SeamRequest { points_px: seam_px, ..SeamRequest::default() };
        let question = Question { scale: ScaleRequest::Card, seam, ..Question::default() };
        let photo = photo::from_bytes("bench".into(), &jpeg, &Limits::default()).expect("a photograph");
        let finding = inspect(&photo, &question).expect("a finding");
        let plane = finding.plane.clone();
        let strips = strip::cut(&photo, &plane, &finding.seam).expect("strips");
        Self { jpeg, question, photo, plane, strips, finding }
    }
}

/// The photograph at one of [`SIZES_MP`].
pub fn of_size(size_mp: u32) -> &'static Walked {
    static WALKED: [LazyLock<Walked>; 3] =
        [LazyLock::new(|| sized(0.5)), LazyLock::new(|| sized(1.0)), LazyLock::new(|| sized(2.0))];
    let k = SIZES_MP.iter().position(|&size| size == size_mp).expect("one of the sizes");
    &WALKED[k]
}

/// `fixtures/big-00.jpg`, 12 megapixels, enlarged so many times.
fn sized(times: f64) -> Walked {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures");
    let jpeg = std::fs::read(format!("{folder}/big-00.jpg")).expect("the photograph");
    let truth = std::fs::read(format!("{folder}/truth.json")).expect("its truth");
    let truth: serde_json::Value = serde_json::from_slice(&truth).expect("JSON");
    let seam: Vec<[f64; 2]> = serde_json::from_value(truth["big-00"]["seam_px"].clone()).expect("points");
    // A pixel's middle is whole: its place is enlarged from the picture's edge, half a pixel aside.
    let at = |x: f64| (x + 0.5) * times - 0.5;
    let seam_px = seam.into_iter().map(|[x, y]| PxPoint::new(at(x), at(y))).collect();
    if times == 1.0 {
        return Walked::new(jpeg, seam_px);
    }
    let pixels = image::load_from_memory(&jpeg).expect("a picture").into_rgb8();
    let [width, height] = [pixels.width(), pixels.height()].map(|side| (f64::from(side) * times).round() as u32);
    let pixels = resize(&pixels, width, height, FilterType::CatmullRom);
    Walked::new(report::jpeg(&pixels).expect("a JPEG"), seam_px)
}

/// One long seam of which one of [`LENGTHS_MM`] is given, about its middle.
pub fn of_length(length_mm: u32) -> &'static Walked {
    static WALKED: [LazyLock<Walked>; 4] = [
        LazyLock::new(|| given(LENGTHS_MM[0])),
        LazyLock::new(|| given(LENGTHS_MM[1])),
        LazyLock::new(|| given(LENGTHS_MM[2])),
        LazyLock::new(|| given(LENGTHS_MM[3])),
    ];
    let k = LENGTHS_MM.iter().position(|&length| length == length_mm).expect("one of the lengths");
    &WALKED[k]
}

fn given(length_mm: u32) -> Walked {
    static RENDERED: LazyLock<Rendered> = LazyLock::new(|| {
        let mut seam = SeamScene::new(Cloth::broad_check().with_repeat(16.0));
        seam.offset = OffsetProfile::constant(1.2);
        seam.drape_mm = 0.3;
        seam.cards.push(Card { face: CardFace::Scale { side_mm: 40.0 }, u_mm: 0.0, v_mm: 60.0, turn_rad: 0.1 });
        render(&Scene { seam, camera: Camera::new(1000, 2600, 0.2), seed: 7 }).expect("a photograph")
    });
    let Rendered { jpeg, truth, .. } = &*RENDERED;
    let aside_mm = (truth.length_mm - f64::from(length_mm)) / 2.0;
    // Points of the seam stand about a millimetre apart.
    let per_mm = (truth.seam_px.len() - 1) as f64 / truth.length_mm;
    let [first, last] = [aside_mm, truth.length_mm - aside_mm].map(|mm| (mm * per_mm).round() as usize);
    Walked::new(jpeg.clone(), truth.seam_px[first..=last].iter().step_by(5).copied().collect())
}
