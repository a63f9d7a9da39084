//! The flat cloth measured on photographs whose truth is known: repeat, widths, skew, bow, balance, each held to its U.
#![allow(missing_docs)]

#[path = "support/cloths.rs"]
mod cloths;

use cloths::{ClothScene, cloth, is_balanced, photograph, threads_apart};
use seamstep::cloth::balance::Told;
use seamstep::cloth::family::Family;
use seamstep::cloth::{ClothRequest, FlatCloth, measure};
use seamstep::conventions::COVERAGE_FACTOR;

/// What came of one figure over many cloths.
#[derive(Default)]
struct Figure {
    errors: Vec<f64>,
    inside: usize,
    expanded: Vec<f64>,
}

impl Figure {
    fn told(&mut self, error: f64, expanded: f64) {
        self.errors.push(error.abs());
        self.expanded.push(expanded);
        self.inside += usize::from(error.abs() <= expanded);
    }

    fn at(values: &[f64], share: f64) -> f64 {
        let mut values = values.to_vec();
        values.sort_by(f64::total_cmp);
        values.get(((values.len() as f64 * share).ceil() as usize).max(1) - 1).copied().unwrap_or(f64::NAN)
    }

    fn share(&self) -> f64 {
        self.inside as f64 / self.errors.len().max(1) as f64
    }

    fn line(&self, name: &str) -> String {
        format!(
            "{name:<18} n {:>3}  median {:.4}  90 % {:.4}  worst {:.4}  inside U {:.3}  median U {:.4}",
            self.errors.len(),
            Self::at(&self.errors, 0.5),
            Self::at(&self.errors, 0.9),
            Self::at(&self.errors, 1.0),
            self.share(),
            Self::at(&self.expanded, 0.5)
        )
    }
}

#[derive(Default)]
struct Survey {
    lengthwise: Figure,
    crosswise: Figure,
    widths: Figure,
    skew: Figure,
    bow: Figure,
    taken: usize,
    refused: usize,
    missed: usize,
    repeats_wrong: usize,
    sequences: [usize; 2],
    balance: [[usize; 3]; 3],
}

fn true_repeat(threads: &[(u32, usize)], thread_mm: f64) -> Option<f64> {
    (threads.len() > 1).then(|| threads.iter().map(|t| f64::from(t.0)).sum::<f64>() * thread_mm)
}

impl Survey {
    fn family(&mut self, what: (&FlatCloth, Option<&Family>), threads: &[(u32, usize)], thread_mm: f64, lengthwise: bool) {
        let (flat, family) = what;
        let Some(truth) = true_repeat(threads, thread_mm) else {
            self.missed += usize::from(family.is_some());
            return;
        };
        let Some((family, (repeat, expanded))) = family.and_then(|f| Some((f, flat.repeat_mm(f)?))) else {
            self.missed += 1;
            return;
        };
        if (repeat / truth - 1.0).abs() > 0.03 {
            self.repeats_wrong += 1;
            println!("    repeat {repeat:.2} for {truth:.2}");
            return;
        }
        let figure = if lengthwise { &mut self.lengthwise } else { &mut self.crosswise };
        figure.told(repeat - truth, expanded);
        if std::env::var("SHOW").is_ok() {
            println!("    repeat {:.3} for {truth:.3} U {expanded:.3}", repeat);
        }
        self.sequences[usize::from(family.bands.len() == threads.len())] += 1;
        if family.bands.len() == threads.len() {
            // The same sequence from another beginning: the rotation that fits best.
            let widths: Vec<f64> = threads.iter().map(|t| f64::from(t.0) * thread_mm).collect();
            let n = widths.len();
            let apart = |shift: usize| -> f64 {
                (0..n).map(|k| (family.bands[k].width_mm - widths[(k + shift) % n]).abs()).sum()
            };
            let shift = (0..n).min_by(|&a, &b| apart(a).total_cmp(&apart(b))).unwrap();
            for (k, band) in family.bands.iter().enumerate() {
                let truth = widths[(k + shift) % n];
                let u = band.u_width_mm.hypot(flat.plane.relative_uncertainty * band.width_mm);
                self.widths.told(band.width_mm - truth, COVERAGE_FACTOR * u);
            }
        } else {
            println!("    {} bands for {}: {:?} {:?}", family.bands.len(), threads.len(),
              threads.iter().map(|t| f64::from(t.0) * thread_mm).collect::<Vec<_>>(), family.bands.iter().map(|b| (b.width_mm, b.name.as_str())).collect::<Vec<_>>());
        }
        let balance = family.balance.unwrap();
        let told = [Told::Yes, Told::No, Told::CannotTell].iter().position(|t| *t == balance.same).unwrap();
        // One or two threads out of place are within what threads do.
        let truth = if is_balanced(threads) { 0 } else if f64::from(threads_apart(threads) as u32) * thread_mm < 2.4 { 2 } else { 1 };
        self.balance[truth][told] += 1;
        if truth != 2 && told != truth {
            println!("    balance: {threads:?} told {balance:?}");
        }
    }

    fn take(&mut self, made: &ClothScene, flat: &FlatCloth) {
        self.family((flat, flat.lengthwise.as_ref()), &made.weft, made.thread_mm, true);
        self.family((flat, flat.crosswise.as_ref()), &made.warp, made.thread_mm, false);
        let seam = &made.scene.seam;
        if let Some((skew, _)) = flat.skew {
            // Positive slant: right end (v > 0 of a seam that runs down) stands further along u, lower.
            self.skew.told(skew.percent - 100.0 * seam.skew, skew.expanded_uncertainty_percent);
            if std::env::var("SHOW").is_ok() {
                println!("    skew {:.3} for {:.3} U {:.3}", skew.percent, 100.0 * seam.skew, skew.expanded_uncertainty_percent);
            }
        }
        if let Some(bow) = flat.bow {
            let truth = -seam.weft_bow_mm * (bow.over_mm / 200.0).powi(2);
            let expanded = bow.expanded_uncertainty_percent / 100.0 * bow.over_mm;
            self.bow.told(bow.distance_mm - truth, expanded);
            if std::env::var("SHOW").is_ok() {
                println!("    bow {:.3} for {truth:.3} U {expanded:.3} mm over {:.0}", bow.distance_mm, bow.over_mm);
            }
        }
    }

    fn of(numbers: std::ops::Range<u64>) -> Self {
        let mut survey = Self::default();
        for number in numbers {
            let made = cloth(number);
            survey.taken += 1;
            println!("{number}: weft {:?} warp {:?} mm/px {:.2} tilt {:.1}", true_repeat(&made.weft, made.thread_mm), true_repeat(&made.warp, made.thread_mm), made.scene.camera.mm_per_px, made.scene.camera.tilt_rad.to_degrees());
            match measure(&photograph(&made.scene), &ClothRequest::default()) {
                Ok(flat) => survey.take(&made, &flat),
                Err(problem) => {
                    println!("{number}: {problem}");
                    survey.refused += 1;
                }
            }
        }
        survey
    }

    fn print(&self) {
        println!("{} taken, {} refused, {} families missed or invented, {} repeats wrong", self.taken, self.refused, self.missed, self.repeats_wrong);
        println!("sequences: {} wrong, {} right; balance (yes, no, near) by told (yes, no, cannot): {:?}", self.sequences[0], self.sequences[1], self.balance);
        for (figure, name) in [
            (&self.lengthwise, "lengthwise, mm"),
            (&self.crosswise, "crosswise, mm"),
            (&self.widths, "widths, mm"),
            (&self.skew, "skew, %"),
            (&self.bow, "bow, mm"),
        ] {
            println!("{}", figure.line(name));
        }
    }
}

#[test]
fn chance_cloths_lie_within_their_uncertainties() {
    let survey = Survey::of(0..std::env::var("MANY").map_or(16, |m| m.parse().unwrap()));
    survey.print();
}

#[test]
fn zz_debug() {
    for n in std::env::var("N").unwrap_or_default().split(',').filter_map(|n| n.parse().ok()) {
        let made = cloth(n);
        let s = &made.scene.seam;
        println!("{n}: weft {:?} warp {:?} thread {:.3} skew {:.3} bow {:.2} drape {:.2} lean {:.3} tilt {:.2} towards {:.2} card {:?}", made.weft, made.warp, made.thread_mm, s.skew, s.weft_bow_mm, s.drape_mm, s.lean_rad, made.scene.camera.tilt_rad, made.scene.camera.tilt_towards_rad, s.cards[0]);
        let photo = photograph(&made.scene);
        photo.pixels.save(format!("/tmp/s/a-cloth-{n}.png")).unwrap();
        match measure(&photo, &ClothRequest::default()) {
            Ok(flat) => {
                println!("  plane rel {:.5} {:?}", flat.plane.relative_uncertainty, flat.notes);
                for f in [&flat.lengthwise, &flat.crosswise] { if let Some(f) = f {
                    println!("  {:?}\n   len {:.1} rep {:?} contrast {:.3} bal {:?}", f.run, f.length_mm, f.repeat_mm, f.contrast, f.balance);
                    println!("   {:?}", f.fold.as_ref().map(|x| (x.places(), x.u_tone, x.rows.len())));
                    for b in &f.bands { println!("     {b:?}"); }
                } else { println!("  none"); } }
            }
            Err(p) => println!("  {p}"),
        }
    }
}
