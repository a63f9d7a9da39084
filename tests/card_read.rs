//! The printed card in difficult photographs: small, tilted, half in a shadow, soft, over the edge of other cloth,
//! covered in part, beside another card, beside other symbols. Every scene has its true scale.

#[path = "support/plane_error.rs"]
mod plane_error;
#[path = "card_read/scenes.rs"]
mod scenes;

use scenes::{Kind, Outcome, trial};

/// The figures of many trials of one kind.
#[derive(Default)]
struct Tally {
    trials: usize,
    read: usize,
    within: usize,
    fit_within: usize,
    wrong: usize,
    refused_with_note: usize,
    errors: Vec<f64>,
    corners: Vec<f64>,
    stated: Vec<f64>,
}

impl Tally {
    fn of(kind: Kind, seeds: std::ops::Range<u64>) -> Self {
        let mut tally = Self::default();
        for seed in seeds {
            tally.trials += 1;
            let outcome = trial(kind, seed);
            if std::env::var_os("SEAMSTEP_CARD_TABLE").is_some() {
                eprintln!("{kind:?} {seed} {outcome:?}");
            }
            match outcome {
                Outcome::Read { error, relative_uncertainty, fit_uncertainty, corner_px } => {
                    tally.read += 1;
                    tally.within += usize::from(error.abs() <= 2.0 * relative_uncertainty);
                    tally.fit_within += usize::from(error.abs() <= 2.0 * fit_uncertainty);
                    tally.wrong += usize::from(error.abs() > 0.01 && error.abs() > 3.0 * relative_uncertainty);
                    tally.errors.push(error.abs());
                    tally.corners.push(corner_px);
                    tally.stated.push(relative_uncertainty);
                }
                Outcome::Unread { said } => tally.refused_with_note += usize::from(said),
            }
        }
        for list in [&mut tally.errors, &mut tally.corners, &mut tally.stated] {
            list.sort_by(f64::total_cmp);
        }
        tally
    }

    fn quantile(values: &[f64], share: f64) -> f64 {
        values.get(((values.len() as f64 - 1.0) * share).round().max(0.0) as usize).copied().unwrap_or(f64::NAN)
    }

    fn row(&self) -> String {
        let percent = |values: &[f64], share: f64| 100.0 * Self::quantile(values, share);
        format!(
            "read {}/{}, not read but said {}, inside 2u {}, inside 2u of the fit {}, wrong {}; error median {:.3} %, \
             90th {:.3} %, worst {:.3} %; u median {:.3} %; corner median {:.2} px, 90th {:.2} px, worst {:.2} px",
            self.read,
            self.trials,
            self.refused_with_note,
            self.within,
            self.fit_within,
            self.wrong,
            percent(&self.errors, 0.5),
            percent(&self.errors, 0.9),
            percent(&self.errors, 1.0),
            percent(&self.stated, 0.5),
            Self::quantile(&self.corners, 0.5),
            Self::quantile(&self.corners, 0.9),
            Self::quantile(&self.corners, 1.0),
        )
    }
}

#[test]
#[ignore = "the whole battery, minutes: run it by name and read its table"]
fn the_whole_battery() {
    for kind in Kind::ALL {
        let start = std::time::Instant::now();
        let tally = Tally::of(kind, 0..24);
        eprintln!("{kind:?} ({:.1} s): {}", start.elapsed().as_secs_f64(), tally.row());
    }
}
