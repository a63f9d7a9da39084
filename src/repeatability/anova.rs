//! What part of the variation comes from what: analysis of variance of a gauge study.
//!
//! # Source
//! The ANOVA method of Measurement Systems Analysis, fourth edition, AIAG (its worked example was read in public copies, the
//! manual itself was not): parts crossed with people, the interaction pooled with the repeats when its chance exceeds
//! [`POOLED_FROM`]. Interval of a sum of mean squares: Satterthwaite, Biometrics Bulletin 2, 1946 (from memory).

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor};

/// The interaction of parts and people is pooled with the repeats from this chance on (0 to 1) that it is none.
pub const POOLED_FROM: f64 = 0.25;
/// Level of the intervals.
pub const LEVEL: f64 = 0.95;

/// One row of the analysis of variance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Row {
    /// What varies.
    pub source: &'static str,
    /// Degrees of freedom.
    pub freedom: f64,
    /// Sum of squares.
    pub sum: f64,
    /// Mean square: the sum over the freedom.
    pub mean: f64,
    /// The mean square over the one that it is compared with; `None` for the repeats.
    pub f: Option<f64>,
    /// The chance of so large an F when this source brings nothing.
    pub p: Option<f64>,
}

/// A standard deviation with its confidence interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Deviation {
    /// The standard deviation; 0 where the analysis finds less than nothing.
    pub value: f64,
    /// The interval's ends.
    pub interval: [f64; 2],
    /// Its effective degrees of freedom.
    pub freedom: f64,
}

/// Where the variation comes from, standard deviations.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Components {
    /// The table.
    pub rows: Vec<Row>,
    /// Whether the interaction was pooled with the repeats.
    pub pooled: bool,
    /// Repeatability: the same person, the same part, again.
    pub repeatability: Deviation,
    /// Reproducibility: another person (with how people differ from part to part); `None` with one person.
    pub reproducibility: Option<f64>,
    /// Repeatability and reproducibility together: the measurement.
    pub gauge: Deviation,
    /// From part to part; `None` with one part.
    pub parts: Option<f64>,
}

/// Readings of one part by one person.
pub type Cell = Vec<f64>;

/// Parts crossed with people: `cells[part][person]` holds as many readings everywhere. `None` for fewer than two parts, two
/// people or two readings, and for cells that differ in number.
pub fn crossed(cells: &[Vec<Cell>]) -> Option<Components> {
    let (parts, people) = (cells.len(), cells.first()?.len());
    let repeats = cells[0].first()?.len();
    let even = cells.iter().all(|part| part.len() == people && part.iter().all(|cell| cell.len() == repeats));
    if parts < 2 || people < 2 || repeats < 2 || !even {
        return None;
    }
    let [p, o, r] = [parts, people, repeats].map(|n| n as f64);
    let all = mean(cells.iter().flatten().flatten())?;
    let part_means: Vec<f64> = cells.iter().map(|part| mean(part.iter().flatten())).collect::<Option<_>>()?;
    let person_means: Vec<f64> =
        (0..people).map(|k| mean(cells.iter().flat_map(|part| &part[k]))).collect::<Option<_>>()?;
    let square = |means: &[f64]| means.iter().map(|m| (m - all).powi(2)).sum::<f64>();
    let (mut within, mut between) = (0.0, 0.0);
    for (part, part_mean) in cells.iter().zip(&part_means) {
        for (cell, person_mean) in part.iter().zip(&person_means) {
            let own = mean(cell)?;
            within += cell.iter().map(|x| (x - own).powi(2)).sum::<f64>();
            between += r * (own - part_mean - person_mean + all).powi(2);
        }
    }
    let (f_parts, f_people) = (p - 1.0, o - 1.0);
    let (f_both, f_repeats) = (f_parts * f_people, p * o * (r - 1.0));
    let [ms_parts, ms_people] = [o * r * square(&part_means) / f_parts, p * r * square(&person_means) / f_people];
    let (ms_both, ms_repeats) = (between / f_both, within / f_repeats);
    let chance_both = chance(ms_both / ms_repeats, f_both, f_repeats);
    let pooled = chance_both.is_none_or(|chance| chance > POOLED_FROM);
    // What parts and people are compared with.
    let (ms_error, f_error) = match pooled {
        true => ((between + within) / (f_both + f_repeats), f_both + f_repeats),
        false => (ms_both, f_both),
    };
    let compared = |source, freedom, mean: f64| {
        let f = Some(mean / ms_error).filter(|f| f.is_finite());
        Row { source, freedom, sum: mean * freedom, mean, f, p: f.and_then(|f| chance(f, freedom, f_error)) }
    };
    let mut rows = vec![compared("seams", f_parts, ms_parts), compared("people", f_people, ms_people)];
    let both = Some(ms_both / ms_repeats).filter(|f| f.is_finite());
    rows.push(Row {
        source: "people from seam to seam",
        freedom: f_both,
        sum: between,
        mean: ms_both,
        f: both,
        p: chance_both,
    });
    rows.push(Row { source: "repeats", freedom: f_repeats, sum: within, mean: ms_repeats, f: None, p: None });
    // Each component as a sum of mean squares with their shares.
    let (ms_same, f_same) = if pooled { (ms_error, f_error) } else { (ms_repeats, f_repeats) };
    let people_var = ((ms_people - ms_error) / (p * r)).max(0.0);
    let both_var = if pooled { 0.0 } else { ((ms_both - ms_repeats) / r).max(0.0) };
    let parts_var = ((ms_parts - ms_error) / (o * r)).max(0.0);
    let gauge_var = ms_same + people_var + both_var;
    let mut shares = vec![(ms_same, f_same, 1.0)];
    if people_var > 0.0 {
        shares.push((ms_people, f_people, 1.0 / (p * r)));
        shares.push((ms_error, f_error, -1.0 / (p * r)));
    }
    if both_var > 0.0 {
        shares.push((ms_both, f_both, 1.0 / r));
        shares.push((ms_repeats, f_repeats, -1.0 / r));
    }
    Some(Components {
        rows,
        pooled,
        repeatability: deviation(ms_same, f_same),
        reproducibility: Some((people_var + both_var).sqrt()),
        gauge: deviation(gauge_var, satterthwaite(gauge_var, &shares)),
        parts: Some(parts_var.sqrt()),
    })
}

/// One person: parts with any number of readings each, one of them two at least. `None` where nothing was read again.
pub fn one_person(cells: &[Cell]) -> Option<Components> {
    let cells: Vec<&Cell> = cells.iter().filter(|cell| !cell.is_empty()).collect();
    let count: f64 = cells.iter().map(|cell| cell.len() as f64).sum();
    let parts = cells.len() as f64;
    let all = mean(cells.iter().copied().flatten())?;
    let (mut within, mut between, mut squares) = (0.0, 0.0, 0.0);
    for cell in &cells {
        let own = mean(*cell)?;
        within += cell.iter().map(|x| (x - own).powi(2)).sum::<f64>();
        between += cell.len() as f64 * (own - all).powi(2);
        squares += (cell.len() as f64).powi(2);
    }
    let freedom = count - parts;
    if freedom < 1.0 {
        return None;
    }
    let ms_repeats = within / freedom;
    let repeats = Row { source: "repeats", freedom, sum: within, mean: ms_repeats, f: None, p: None };
    let mut rows = Vec::new();
    let mut parts_deviation = None;
    if cells.len() > 1 {
        let ms_parts = between / (parts - 1.0);
        // The number of readings of a part, evened out.
        let readings = (count - squares / count) / (parts - 1.0);
        parts_deviation = Some(((ms_parts - ms_repeats) / readings).max(0.0).sqrt());
        let f = Some(ms_parts / ms_repeats).filter(|f| f.is_finite());
        let p = f.and_then(|f| chance(f, parts - 1.0, freedom));
        rows.push(Row { source: "seams", freedom: parts - 1.0, sum: between, mean: ms_parts, f, p });
    }
    rows.push(repeats);
    let repeatability = deviation(ms_repeats, freedom);
    Some(Components {
        rows,
        pooled: false,
        repeatability,
        reproducibility: None,
        gauge: repeatability,
        parts: parts_deviation,
    })
}

fn mean<'a>(values: impl IntoIterator<Item = &'a f64>) -> Option<f64> {
    let (sum, count) = values.into_iter().fold((0.0, 0.0), |(sum, count), x| (sum + x, count + 1.0));
    (count > 0.0).then(|| sum / count)
}

/// The chance of so large an F by nothing but repeats; `None` where F is no number.
fn chance(f: f64, above: f64, below: f64) -> Option<f64> {
    (f.is_finite() && f >= 0.0).then(|| FisherSnedecor::new(above, below).ok().map(|d| d.sf(f))).flatten()
}

/// The degrees of freedom of a sum of mean squares (mean square, freedom, share).
fn satterthwaite(sum: f64, shares: &[(f64, f64, f64)]) -> f64 {
    let lack: f64 = shares.iter().map(|(mean, freedom, share)| (share * mean).powi(2) / freedom).sum();
    if lack > 0.0 { sum * sum / lack } else { shares.iter().map(|s| s.1).fold(f64::INFINITY, f64::min) }
}

/// The standard deviation of a variance with so many degrees of freedom, and its interval.
fn deviation(variance: f64, freedom: f64) -> Deviation {
    let tail = (1.0 - LEVEL) / 2.0;
    let end = |below: f64| {
        let chi = ChiSquared::new(freedom.max(1e-3)).map_or(f64::NAN, |d| d.inverse_cdf(below));
        (variance * freedom / chi).sqrt()
    };
    Deviation { value: variance.sqrt(), interval: [end(1.0 - tail), end(tail)], freedom }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_that_tell_nothing_are_none() {
        assert!(crossed(&[]).is_none() && one_person(&[]).is_none());
        assert!(crossed(&[vec![vec![1.0, 2.0]; 2]]).is_none());
        assert!(crossed(&[vec![vec![1.0]; 2], vec![vec![1.0]; 2]]).is_none());
        assert!(crossed(&[vec![vec![1.0, 2.0]; 2], vec![vec![1.0, 2.0], vec![1.0]]]).is_none());
        assert!(one_person(&[vec![1.0], vec![2.0]]).is_none());
    }

    #[test]
    fn one_seam_tells_the_repeatability_alone() {
        let told = one_person(&[vec![1.0, 2.0, 3.0]]).unwrap();
        assert_eq!((told.repeatability.value, told.parts, told.rows.len()), (1.0, None, 1));
        assert!(told.repeatability.interval[0] < 1.0 && told.repeatability.interval[1] > 1.0);
    }

    #[test]
    fn readings_that_never_differ_are_no_trouble() {
        let told = crossed(&[vec![vec![1.0, 1.0]; 2], vec![vec![2.0, 2.0]; 2]]).unwrap();
        assert_eq!(told.gauge.value, 0.0);
        assert!(told.rows.iter().all(|row| row.f.is_none_or(f64::is_finite)));
    }
}
