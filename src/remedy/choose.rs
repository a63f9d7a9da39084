//! Which cure, whether it is worth it, and what comes next best; each with its reason in one sentence.

use super::cure::Cure;
use super::custom::Rules;
use super::{Action, Stage};
use crate::digits;
use crate::verdict::{Judgement, Showing, Verdict};

/// A cure whose end is unsure must leave no more than is accepted, or less than this share of the jump, to be tried.
const TRIED_SHARE: f64 = 0.7;
/// The next best is named when it leaves less than this share of the jump.
const NAMED_SHARE: f64 = 0.95;
/// Two cures that leave the same to this, millimetres, differ in the work only.
const NO_GAIN_MM: f64 = 0.1;

/// What was chosen.
#[derive(Clone, Debug)]
pub struct Choice {
    /// What to do.
    pub action: Action,
    /// Whether unpicking is worth it.
    pub worth: bool,
    /// The cure that is done, or that would be done if it were worth it, or that leaves least where none cures.
    pub cure: Cure,
    /// The next best cure; `None` where nothing else helps.
    pub runner_up: Option<RunnerUp>,
    /// Why, one sentence with numbers, without its full stop.
    pub why: String,
}

/// The next best.
#[derive(Clone, Debug, PartialEq)]
pub struct RunnerUp {
    /// The cure.
    pub cure: Cure,
    /// Why it comes second, one sentence with numbers, without its full stop.
    pub why: String,
}

/// What the choice is weighed by beside the readings.
#[derive(Clone, Copy, Debug)]
pub struct Weights<'a> {
    /// How far the work has gone.
    pub stage: Stage,
    /// The distance from which the worst jump is seen, metres.
    pub visible_from_m: f64,
    /// The rules of thumb.
    pub rules: &'a Rules,
}

/// Chooses for a seam that is off; `cures` are those of [`super::cure::all`], leaving it first. `None` without cures.
pub fn choose(cures: &[Cure], verdict: &Verdict, weights: Weights<'_>) -> Option<Choice> {
    let (leave, others) = cures.split_first()?;
    let worst_mm = leave.leaves_mm;
    let least = |a: &&Cure, b: &&Cure| a.leaves_mm.total_cmp(&b.leaves_mm);
    let surely = others.iter().find(|c| c.inside == Judgement::Matched);
    let promises = |c: &&Cure| c.leaves_mm <= verdict.tolerance_mm || c.leaves_mm < TRIED_SHARE * worst_mm;
    let perhaps = others.iter().filter(|c| c.inside == Judgement::Unsure).filter(promises).min_by(least);
    let unit = verdict.unit;
    let length = |mm: f64| digits::length(mm, unit);
    let accepted = digits::given(verdict.tolerance_mm, unit);
    let jump = format!("the lines jump {}", length(worst_mm));
    let Some(cure) = surely.or(perhaps) else {
        let best = others.iter().min_by(least).unwrap_or(leave);
        // Cloth that is cut stays cut: it takes readings that are sure.
        if let Some(open) = others.iter().filter(|c| c.may_do).min_by(least) {
            return Some(Choice {
                action: Action::PhotographAgain,
                worth: false,
                cure: *open,
                runner_up: named(open, worst_mm).map(|cure| RunnerUp {
                    cure,
                    why: format!(
                        "{} leaves {}, as far as this photograph tells",
                        doing(cure.action),
                        left(&cure, unit)
                    ),
                }),
                why: format!(
                    "{jump} where {accepted} is accepted, but whether pinning and easing can cure it hangs on places where \
                     the jump is not known well enough to cut cloth by"
                ),
            });
        }
        return Some(Choice {
            action: Action::RecutOrAccept,
            worth: false,
            cure: *best,
            runner_up: named(best, worst_mm).map(|cure| RunnerUp {
                cure,
                why: format!("{} leaves {}, more than the {accepted} accepted", doing(cure.action), left(&cure, unit)),
            }),
            why: format!(
                "{jump}, and however the seam is pinned and eased, {} is left where {accepted} is accepted",
                left(best, unit)
            ),
        });
    };
    let against = against(worst_mm, verdict, weights, &jump);
    let minutes = weights.rules.minutes(weights.stage, cure.to_mm - cure.from_mm).round();
    let runner_up = match against {
        Some(_) => Some(RunnerUp {
            cure: *cure,
            why: format!(
                "{} would leave {}, for about {minutes:.0} minutes of work",
                doing(cure.action),
                left(cure, unit)
            ),
        }),
        None => next(others, cure, leave, weights, unit),
    };
    let why = against.clone().unwrap_or_else(|| {
        let doubt = if cure.inside == Judgement::Unsure { ", perhaps more than what is accepted" } else { "" };
        format!(
            "{jump} where {accepted} is accepted; {} leaves {}{doubt}, for about {minutes:.0} minutes of work",
            doing(cure.action),
            left(cure, unit)
        )
    });
    let worth = against.is_none();
    Some(Choice { action: if worth { cure.action } else { Action::Leave }, worth, cure: *cure, runner_up, why })
}

/// What speaks against opening the seam at all; `None`: nothing.
fn against(worst_mm: f64, verdict: &Verdict, weights: Weights<'_>, jump: &str) -> Option<String> {
    let custom = verdict.place.custom();
    let Weights { stage, visible_from_m, rules } = weights;
    let accepted = digits::given(verdict.tolerance_mm, verdict.unit);
    let Some(from) = rules.worth_from_tolerances(stage, custom.showing) else {
        return Some(format!("{jump}, but {}, where nobody looks", custom.words));
    };
    let state = match stage {
        Stage::Basted => "basted",
        Stage::Sewn => "sewn",
        Stage::Finished => "finished",
    };
    if worst_mm < from * verdict.tolerance_mm {
        let shows = if custom.showing == Showing::HalfHidden { " that is half hidden" } else { "" };
        return Some(format!(
            "{jump}, less than {} the {accepted} accepted, and a {state} seam{shows} is opened for no less",
            if from == 2.0 { "twice".to_owned() } else { format!("{} times", digits::plain(from, 1)) }
        ));
    }
    (stage != Stage::Basted && visible_from_m < rules.near_m).then(|| {
        format!(
            "{jump}, but in lines this faint that is seen only from nearer than {} m, and the seam is {state}",
            digits::plain(rules.near_m, 1)
        )
    })
}

/// The next best beside the one that is done.
fn next(others: &[Cure], done: &Cure, leave: &Cure, weights: Weights<'_>, unit: digits::Unit) -> Option<RunnerUp> {
    let differs = |c: &&Cure| c.action != done.action && (c.leaves_mm - done.leaves_mm).abs() >= NO_GAIN_MM;
    let rest = others.iter().filter(differs);
    let best = rest.min_by(|a, b| a.leaves_mm.total_cmp(&b.leaves_mm)).and_then(|c| named(c, leave.leaves_mm));
    let Some(cure) = best else {
        let seen = super::visible::told(weights.visible_from_m);
        return Some(RunnerUp {
            cure: *leave,
            why: format!("leaving it keeps a jump of {}, seen from {seen}", digits::length(leave.leaves_mm, unit)),
        });
    };
    let (leaves, done_leaves) = (left(&cure, unit), left(done, unit));
    let opens_mm = cure.to_mm - cure.from_mm;
    let why = if opens_mm > 1.2 * (done.to_mm - done.from_mm) {
        format!(
            "{} leaves {leaves} and opens {} {} of seam instead of {}",
            doing(cure.action),
            digits::place(opens_mm, unit),
            unit.places(),
            digits::place(done.to_mm - done.from_mm, unit)
        )
    } else if cure.ease != 0.0 {
        format!(
            "{} leaves {leaves} instead of {done_leaves}, but asks for {} % of ease",
            doing(cure.action),
            digits::plain(100.0 * cure.ease.abs(), 1)
        )
    } else {
        format!("{} leaves {leaves} instead of {done_leaves}", doing(cure.action))
    };
    Some(RunnerUp { cure, why })
}

fn named(cure: &Cure, worst_mm: f64) -> Option<Cure> {
    (cure.action != Action::Leave && cure.leaves_mm < NAMED_SHARE * worst_mm).then_some(*cure)
}

/// The cure as the subject of a sentence.
pub fn doing(action: Action) -> &'static str {
    match action {
        Action::Leave => "leaving it",
        Action::RepinStretch => "pinning that stretch again",
        Action::RepinWhole => "pinning the whole seam again with one shift",
        Action::Ease => "pinning the whole seam again and easing",
        Action::RecutOrAccept => "cutting one side again",
        Action::PhotographAgain => "photographing again",
    }
}

/// What a cure leaves, and how sure: `0.3 ± 0.1 mm`.
pub fn left(cure: &Cure, unit: digits::Unit) -> String {
    digits::about(cure.leaves_mm, cure.expanded_uncertainty_mm, unit)
}
