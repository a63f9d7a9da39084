//! Rules of thumb of the sewing table, in one table, each with its name; all can be changed by the user.
//!
//! Common practice, no source, every one of them, unless its line says otherwise. The maker's or buyer's own
//! specification, and what is known of the cloth at hand, go before them.

use super::Stage;
use crate::problem::Problem;
use crate::verdict::Showing;
use serde::{Deserialize, Serialize};

/// The rules of thumb. Names in a settings file are the same, with hyphens.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct Rules {
    /// Most ease that firm woven cloth takes without puckering, per cent of the longer edge (1 to 2).
    pub most_ease_percent: f64,
    /// A stretch is pinned again alone only where at least this share of the seam stays untouched, per cent.
    pub untouched_percent: f64,
    /// A stretch's shift runs out to nothing no faster than this, per cent of the seam's length: cloth does not step.
    pub run_out_percent: f64,
    /// Length of a machine stitch, millimetres (10 to 12 to the inch).
    pub machine_stitch_mm: f64,
    /// Length of a basting stitch, millimetres.
    pub basting_stitch_mm: f64,
    /// Minutes to set up where the seam is basted.
    pub basted_minutes: f64,
    /// Minutes for 100 mm of basted seam: pull the thread, pin, baste again.
    pub basted_minutes_per_100_mm: f64,
    /// Minutes to set up where the seam is sewn.
    pub sewn_minutes: f64,
    /// Minutes for 100 mm of sewn seam: unpick, pin, sew again.
    pub sewn_minutes_per_100_mm: f64,
    /// Minutes to open and close the lining, and to press again, where the garment is finished.
    pub finished_minutes: f64,
    /// Minutes for 100 mm of finished seam.
    pub finished_minutes_per_100_mm: f64,
    /// A sewn seam that only half shows is opened from this many tolerances on.
    pub sewn_half_hidden_from_tolerances: f64,
    /// A finished seam is opened from this many tolerances on.
    pub finished_from_tolerances: f64,
    /// A finished seam that only half shows is opened from this many tolerances on.
    pub finished_half_hidden_from_tolerances: f64,
    /// A jump that is seen only from nearer than this is left once the seam is sewn, metres (an arm's length).
    pub near_m: f64,
    /// Lines of the two sides whose angles to the seam differ by more are called so, degrees.
    pub angles_differ_deg: f64,
}

impl Default for Rules {
    fn default() -> Self {
        Self {
            most_ease_percent: 2.0,
            untouched_percent: 40.0,
            run_out_percent: 50.0,
            machine_stitch_mm: 2.5,
            basting_stitch_mm: 4.5,
            basted_minutes: 3.0,
            basted_minutes_per_100_mm: 3.0,
            sewn_minutes: 5.0,
            sewn_minutes_per_100_mm: 7.0,
            finished_minutes: 20.0,
            finished_minutes_per_100_mm: 12.0,
            sewn_half_hidden_from_tolerances: 1.5,
            finished_from_tolerances: 2.0,
            finished_half_hidden_from_tolerances: 3.0,
            near_m: 0.6,
            angles_differ_deg: 3.0,
        }
    }
}

impl Rules {
    /// Refuses figures that cannot be.
    ///
    /// # Errors
    /// Usage, with the name of the rule and what it may be.
    pub fn check(&self) -> Result<(), Problem> {
        for (name, value, low, high) in [
            ("most-ease-percent", self.most_ease_percent, 0.0, 20.0),
            ("untouched-percent", self.untouched_percent, 0.0, 100.0),
            ("run-out-percent", self.run_out_percent, 1.0, 100.0),
            ("machine-stitch-mm", self.machine_stitch_mm, 0.5, 20.0),
            ("basting-stitch-mm", self.basting_stitch_mm, 0.5, 50.0),
            ("basted-minutes", self.basted_minutes, 0.0, 1e3),
            ("basted-minutes-per-100-mm", self.basted_minutes_per_100_mm, 0.0, 1e3),
            ("sewn-minutes", self.sewn_minutes, 0.0, 1e3),
            ("sewn-minutes-per-100-mm", self.sewn_minutes_per_100_mm, 0.0, 1e3),
            ("finished-minutes", self.finished_minutes, 0.0, 1e3),
            ("finished-minutes-per-100-mm", self.finished_minutes_per_100_mm, 0.0, 1e3),
            ("sewn-half-hidden-from-tolerances", self.sewn_half_hidden_from_tolerances, 1.0, 100.0),
            ("finished-from-tolerances", self.finished_from_tolerances, 1.0, 100.0),
            ("finished-half-hidden-from-tolerances", self.finished_half_hidden_from_tolerances, 1.0, 100.0),
            ("near-m", self.near_m, 0.0, 100.0),
            ("angles-differ-deg", self.angles_differ_deg, 0.5, 45.0),
        ] {
            if !(low..=high).contains(&value) {
                return Err(Problem::usage(
                    format!("the rule {name} cannot be {value}"),
                    format!("give it a value from {low} to {high}, or leave it out"),
                ));
            }
        }
        Ok(())
    }

    /// Length of one stitch, millimetres.
    pub fn stitch_mm(&self, stage: Stage) -> f64 {
        match stage {
            Stage::Basted => self.basting_stitch_mm,
            Stage::Sewn | Stage::Finished => self.machine_stitch_mm,
        }
    }

    /// Minutes to open, pin and close again this much of the seam.
    pub fn minutes(&self, stage: Stage, length_mm: f64) -> f64 {
        let (start, per_100_mm) = match stage {
            Stage::Basted => (self.basted_minutes, self.basted_minutes_per_100_mm),
            Stage::Sewn => (self.sewn_minutes, self.sewn_minutes_per_100_mm),
            Stage::Finished => (self.finished_minutes, self.finished_minutes_per_100_mm),
        };
        start + per_100_mm * length_mm / 100.0
    }

    /// From how many tolerances on a seam at this stage is opened where it shows like this; `None`: never.
    pub fn worth_from_tolerances(&self, stage: Stage, showing: Showing) -> Option<f64> {
        match (stage, showing) {
            (_, Showing::Hidden) => None,
            (Stage::Basted, _) | (Stage::Sewn, Showing::Plainly) => Some(1.0),
            (Stage::Sewn, Showing::HalfHidden) => Some(self.sewn_half_hidden_from_tolerances),
            (Stage::Finished, Showing::Plainly) => Some(self.finished_from_tolerances),
            (Stage::Finished, Showing::HalfHidden) => Some(self.finished_half_hidden_from_tolerances),
        }
    }
}

/// Cautions that apply when a seam is opened and pinned again at this stage.
pub fn cautions(stage: Stage) -> Vec<&'static str> {
    let mut cautions = vec![
        "Unpick away from your body; the blade is sharp.",
        "Pins across the seam, and out a stitch or two before the needle: a needle that hits a pin can break and fly.",
    ];
    if stage != Stage::Basted {
        cautions.push("Needle marks may stay in fine or coated cloth: try a hidden place first.");
        cautions.push("Test the iron on a scrap; press, do not slide.");
    }
    cautions.push("The maker's or buyer's own specification comes before these figures.");
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rules_as_they_are_can_be() {
        Rules::default().check().unwrap();
        for bad in [-1.0, f64::NAN, f64::INFINITY, 1e9] {
            assert!(Rules { machine_stitch_mm: bad, ..Rules::default() }.check().is_err(), "{bad}");
        }
    }

    #[test]
    fn the_further_the_work_and_the_less_it_shows_the_more_it_takes() {
        let rules = Rules::default();
        let from = |stage, showing| rules.worth_from_tolerances(stage, showing).unwrap_or(f64::INFINITY);
        let stages = [Stage::Basted, Stage::Sewn, Stage::Finished];
        let showings = [Showing::Plainly, Showing::HalfHidden, Showing::Hidden];
        for showing in showings {
            assert!(stages.map(|stage| from(stage, showing)).is_sorted());
        }
        for stage in stages {
            assert!(showings.map(|showing| from(stage, showing)).is_sorted());
        }
        assert!(stages.map(|stage| rules.minutes(stage, 150.0)).is_sorted());
    }
}
