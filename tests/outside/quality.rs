//! Acceptance sampling and capability. The figures are in quality.json; where each comes from stands at its test.

use crate::stripes::Chance;
use seamstep::acceptance::table::{self, Cell};
use seamstep::acceptance::{oc, plan};
use seamstep::capability;
use seamstep::repeatability::{CLASSES, anova};
use serde_json::Value;

pub fn figures() -> Value {
    serde_json::from_str(include_str!("quality.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn whole(value: &Value) -> u64 {
    value.as_u64().unwrap_or_else(|| panic!("{value} is no count"))
}

#[test]
fn every_cell_of_the_sampling_table_is_as_printed() {
    // A table developed from MIL-STD-105E, tables I and II-A (a public copy, read): code letters, samples, all 90 cells of
    // six limits, and the plan that each leads to.
    let figures = figures();
    let letters = figures["code_letters_general_II"].as_array().unwrap();
    assert_eq!(letters.len(), table::LETTERS.len());
    for (row, known) in letters.iter().enumerate() {
        let letter = table::LETTERS[row].to_string();
        assert_eq!((known["letter"].as_str(), whole(&known["n"])), (Some(letter.as_str()), table::SAMPLES[row]));
        assert_eq!(table::row(whole(&known["lot_min"])), row);
        if let Some(most) = known["lot_max"].as_u64() {
            assert_eq!((table::row(most), table::row(most + 1)), (row, row + 1));
        }
    }
    let mut cells = 0;
    for (aql, column) in figures["table_II_A"].as_object().unwrap() {
        let aql: f64 = aql.parse().unwrap();
        let at = table::AQL_PERCENT.iter().position(|known| *known == aql).unwrap();
        for (row, letter) in table::LETTERS.iter().enumerate() {
            let known = &column[letter.to_string()];
            let due = match known["cell"].as_str() {
                Some("down") => Cell::Down,
                Some("up") => Cell::Up,
                _ => Cell::Accept(known["cell"].as_u64().or_else(|| known["cell"].as_str()?.parse().ok()).unwrap()),
            };
            assert_eq!(table::cell(row, at), due, "{letter} at {aql}");
            let lot = whole(&letters[row]["lot_min"]);
            let plan = plan(lot, aql).unwrap();
            let used = (whole(&known["n"]).min(lot), whole(&known["Ac"]), whole(&known["Re"]));
            assert_eq!((plan.letter, (plan.sample, plan.accept, plan.reject())), (*letter, used), "{letter} at {aql}");
            cells += 1;
        }
    }
    assert_eq!(cells, 90);
}

#[test]
fn operating_characteristics_are_scipys() {
    // Computed with scipy 1.17.1 (binom, hypergeom): every plan of the table, and two plans of textbooks: (52, 3) of the NIST
    // e-Handbook 6.2.3.2 (plan from memory), (89, 2) of Montgomery 15.2 (read).
    let figures = figures();
    let mut checked = 0;
    for (name, known) in figures["oc"].as_object().unwrap() {
        let (n, accept) = (whole(&known["n"]), whole(&known["Ac"]));
        let aql: f64 = name.split('@').nth(1).unwrap().parse().unwrap();
        let at_limit = oc::binomial(n, accept, aql / 100.0);
        assert!((at_limit - number(&known["Pa_at_AQL_binomial"])).abs() < 1e-9, "{name}: {at_limit}");
        for (probability, share) in known["p_at_Pa_binomial"].as_object().unwrap() {
            let found = oc::share_accepted_with(n, accept, probability.parse().unwrap());
            assert!((found - number(share)).abs() < 1e-9, "{name} {probability}: {found}");
            checked += 1;
        }
    }
    assert_eq!(checked, 53 * 9);
    for (n, accept, list) in [(52, 3, "oc_nist_52_3"), (89, 2, "oc_89_2")] {
        for known in figures[list].as_array().unwrap() {
            let found = oc::binomial(n, accept, number(&known["p"]));
            assert!((found - number(&known["Pa"])).abs() < 1e-9, "{list}: {found}");
        }
    }
    let finite = &figures["hypergeom_check"];
    let [lot, failing, n, accept] = ["N", "D", "n", "c"].map(|name| whole(&finite[name]));
    assert!((oc::hypergeometric(lot, failing, n, accept) - number(&finite["Pa"])).abs() < 1e-9);
}

/// `values` moved and stretched to this mean and standard deviation.
fn with_moments(mean: f64, deviation: f64) -> Vec<f64> {
    let half = deviation * 0.5_f64.sqrt();
    vec![mean - half, mean + half]
}

#[test]
fn capability_indices_are_the_published_ones() {
    let figures = figures();
    // NIST/SEMATECH e-Handbook 6.1.6, its example (inputs from memory).
    let nist = &figures["cpk_nist"];
    let [upper, lower, mean, sigma] = ["USL", "LSL", "mu", "sigma"].map(|name| number(&nist[name]));
    let told = capability::of(&with_moments(mean, sigma), [lower, upper], 0.95).unwrap();
    assert!((told.cp.value - number(&nist["Cp"])).abs() < 1e-9 && (told.cpk.value - number(&nist["Cpk"])).abs() < 1e-9);
    // Two cases of a public test file of uncertainty software (read): index and share beyond the limits.
    for known in figures["cpk_suncal"].as_array().unwrap() {
        let [lower, upper, mean, sigma] = ["LL", "UL", "mu", "s"].map(|name| number(&known[name]));
        let told = capability::of(&with_moments(mean, sigma), [lower, upper], 0.95).unwrap();
        assert!(
            (told.cpk.value - number(&known["cpk"])).abs() < 1e-6
                && (told.beyond - number(&known["frac"])).abs() < 1e-8
        );
    }
    // Parts per million beyond both limits of a centred process (a published table, read; computed with scipy 1.17.1).
    for (cp, ppm) in figures["cp_ppm_centred"].as_object().unwrap() {
        let cp: f64 = cp.parse().unwrap();
        let told = capability::of(&with_moments(0.0, 1.0), [-3.0 * cp, 3.0 * cp], 0.95).unwrap();
        let found = 1e6 * told.beyond;
        assert!((found / number(ppm) - 1.0).abs() < 1e-6, "{cp}: {found}");
    }
}

#[test]
fn the_intervals_of_the_indices_are_the_published_ones() {
    let figures = figures();
    let values = |known: &Value| known["data"].as_array().unwrap().iter().map(number).collect::<Vec<_>>();
    // SAS/QC documentation, example 5.3 (read): 90 % interval of Cpk, printed as (0.328, 0.496).
    let known = &figures["cpk_ci_sas_amps"];
    let told = capability::of(&values(known), [4.0, 6.0], 0.9).unwrap();
    assert!((told.cpk.low - 0.328).abs() < 5e-4 && (told.cpk.high - 0.496).abs() < 5e-4, "{told:?}");
    assert!((told.cpk.value - number(&known["Cpk"])).abs() < 1e-12);
    // SAS sample CPCON (data and formula read): 95 % intervals of Cp and Cpk, computed with scipy 1.17.1.
    let known = &figures["cp_ci_sas_cpcon"];
    let told = capability::of(&values(known), [0.8, 2.4], 0.95).unwrap();
    for (index, value, interval) in [(told.cp, "Cp", "Cp_95ci"), (told.cpk, "Cpk", "Cpk_bissell_95ci")] {
        assert!((index.value - number(&known[value])).abs() < 1e-9, "{value}: {index:?}");
        assert!((index.low - number(&known[interval][0])).abs() < 1e-6, "{value}: {index:?}");
        assert!((index.high - number(&known[interval][1])).abs() < 1e-6, "{value}: {index:?}");
    }
}

#[test]
fn the_gauge_study_is_the_published_one() {
    // The worked example of Measurement Systems Analysis, fourth edition, AIAG (data and published rounded results read in
    // public copies); full digits computed with statsmodels 0.15.0.
    let figures = figures();
    let known = &figures["grr_aiag"];
    let trials = |person: &str, part: usize| -> Vec<f64> {
        known["data"][person].as_array().unwrap().iter().map(|trial| number(&trial[part])).collect()
    };
    let cells: Vec<Vec<Vec<f64>>> =
        (0..10).map(|part| ["A", "B", "C"].iter().map(|person| trials(person, part)).collect()).collect();
    let told = anova::crossed(&cells, anova::POOLED_FROM).unwrap();
    assert_eq!(told.pooled, Some(true));
    for (row, name) in told.rows.iter().zip(["part", "op", "inter", "resid"]) {
        let due = &known["anova"][name];
        assert!((row.freedom - number(&due[0])).abs() < 1e-9, "{name}: {row:?}");
        assert!(
            (row.sum - number(&due[1])).abs() < 1e-9 && (row.mean - number(&due[2])).abs() < 1e-9,
            "{name}: {row:?}"
        );
    }
    // The interaction is compared with the repeats, as statsmodels does it.
    let interaction = &known["anova"]["inter"];
    assert!((told.rows[2].f.unwrap() - number(&interaction[3])).abs() < 1e-9);
    assert!((told.rows[2].p.unwrap() - number(&interaction[4])).abs() < 1e-9);
    let without = anova::crossed(&cells, 1.0).unwrap();
    assert_eq!(without.pooled, Some(false));
    for (told, way) in [(&told, "pooled"), (&without, "unpooled")] {
        let due = |name: &str| number(&known[way][name]);
        let parts = told.parts.unwrap();
        let found = [
            (told.repeatability.value, "EV"),
            (told.reproducibility.unwrap(), "AV"),
            (told.gauge.value, "GRR"),
            (parts, "PV"),
            (100.0 * told.gauge.value / told.gauge.value.hypot(parts), "pct_GRR"),
            (CLASSES * parts / told.gauge.value, "ndc"),
        ];
        for (found, name) in found {
            assert!((found - due(name)).abs() < 1e-9, "{way} {name}: {found}");
        }
    }
    // As published, rounded: variances 0.0400, 0.0515, 1.086, 0.0914.
    let published =
        [(told.repeatability.value, 0.0400), (told.reproducibility.unwrap(), 0.0515), (told.gauge.value, 0.0914)];
    for (found, due) in published {
        assert!((found * found - due).abs() < 6e-5, "{found}: {due}");
    }
}

#[test]
fn pooled_repeatability_is_the_handbooks() {
    // NIST/SEMATECH e-Handbook 2.4.4.4 (read): five sums of squares with 60 degrees of freedom each give s1 = 0.1029.
    let figures = figures();
    let known = &figures["nist_mpc444"];
    // 61 readings of each of five parts, half of them as far above their mean as the others are below, have such a sum.
    let cells: Vec<Vec<f64>> = known["SS"]
        .as_array()
        .unwrap()
        .iter()
        .map(|sum| {
            let apart = (number(sum) / 60.0).sqrt();
            (0..61).map(|k| if k == 60 { 0.0 } else { apart * f64::from(1 - 2 * (k % 2)) }).collect()
        })
        .collect();
    let told = anova::one_person(&cells).unwrap();
    assert_eq!(told.repeatability.freedom, Some(300.0));
    assert!((told.repeatability.value - number(&known["s1"])).abs() < 1e-12);
    assert!((told.repeatability.value - number(&known["published_s1"])).abs() < 5e-5);
}

/// A study of 5 seams by 3 people, `counts(seam, person)` readings each, whose standard deviations are `people`, `both`
/// (people from seam to seam) and 1 from photograph to photograph; seams differ by 3.
fn study(chance: &mut Chance, counts: fn(usize, usize) -> usize, people: f64, both: f64) -> Vec<Vec<Vec<f64>>> {
    let each: Vec<f64> = (0..3).map(|_| people * chance.normal()).collect();
    let part = |k: usize, chance: &mut Chance| -> Vec<Vec<f64>> {
        let seam = 3.0 * chance.normal();
        let cell = |(j, person): (usize, &f64)| {
            let own = seam + person + both * chance.normal();
            (0..counts(k, j)).map(|_| own + chance.normal()).collect()
        };
        each.iter().enumerate().map(cell).collect()
    };
    (0..5).map(|k| part(k, chance)).collect()
}

/// One to three readings, as it comes.
fn unequal(seam: usize, person: usize) -> usize {
    1 + (seam + person) % 3
}

#[test]
fn components_of_unequal_cells_are_unbiased() {
    // A Monte Carlo check, nothing published. Components that are less than nothing count as nothing, which lifts small
    // ones: so they are large here, and never pooled.
    let mut chance = Chance::new(20);
    let studies = 4000;
    let (mut repeats, mut reproducibility, mut parts) = (0.0, 0.0, 0.0);
    for _ in 0..studies {
        let told = anova::crossed(&study(&mut chance, unequal, 3.0, 1.5), 1.0).unwrap();
        repeats += told.repeatability.value.powi(2) / f64::from(studies);
        reproducibility += told.reproducibility.unwrap().powi(2) / f64::from(studies);
        parts += told.parts.unwrap().powi(2) / f64::from(studies);
    }
    // Three standard errors: of chi-square with 15 degrees of freedom, 2 (people, largely) and 4 (seams).
    for (found, due, freedom) in [(repeats, 1.0, 15.0), (reproducibility, 11.25, 2.0), (parts, 9.0, 4.0)] {
        let error = 3.0 * (2.0_f64 / freedom / f64::from(studies)).sqrt();
        assert!((found / due - 1.0).abs() < error, "{found} for {due}, within {error}");
    }
}

#[test]
fn the_gauges_interval_holds_the_truth_as_often_as_it_says() {
    // A Monte Carlo check of the 95 % interval, nothing published: 20 000 studies each, so three standard errors are 0.005.
    // The method is approximate: with as many readings in every cell it holds 94.7 to 95.8 %, with one to three 93.9 to
    // 95.1 % (the same studies computed with numpy 2.4.6 and scipy 1.17.1).
    let mut chance = Chance::new(21);
    let studies = 20_000;
    for (counts, least) in [((|_, _| 2) as fn(usize, usize) -> usize, 0.942), (unequal, 0.934)] {
        for (people, both) in [(0.0, 0.0), (0.3, 0.0), (1.0, 0.0), (2.0, 0.0), (1.0, 0.7)] {
            let truth = f64::sqrt(1.0 + people * people + both * both);
            let held = (0..studies).filter(|_| {
                let told = anova::crossed(&study(&mut chance, counts, people, both), anova::POOLED_FROM).unwrap();
                (told.gauge.interval[0]..=told.gauge.interval[1]).contains(&truth)
            });
            let share = held.count() as f64 / f64::from(studies);
            assert!((least..=0.963).contains(&share), "people {people}, from seam to seam {both}: {share}");
        }
    }
}
