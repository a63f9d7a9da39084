//! Step 2: the ticks and figures of the two check rulers.

use super::MM_PER_INCH;

/// Length of the check ruler, millimetres.
pub(super) const RULER_MM: f64 = 100.0;

/// One tick: its distance from the ruler's start, its length, and the figure under it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Tick {
    pub along_mm: f64,
    pub length_mm: f64,
    pub figure: Option<u32>,
}

/// Ticks every millimetre up to [`RULER_MM`], longer at 5, longest at 10 with the centimetres as figures.
pub(super) fn metric_ticks() -> Vec<Tick> {
    (0..=100u32)
        .map(|mm| Tick {
            along_mm: f64::from(mm),
            length_mm: match mm {
                mm if mm.is_multiple_of(10) => 6.5,
                mm if mm.is_multiple_of(5) => 4.8,
                _ => 3.2,
            },
            figure: mm.is_multiple_of(10).then_some(mm / 10),
        })
        .collect()
}

/// Ticks every sixteenth up to 4 inches, longer at each halving, longest at the inch with its figure.
pub(super) fn inch_ticks() -> Vec<Tick> {
    (0..=64u32)
        .map(|sixteenths| Tick {
            along_mm: f64::from(sixteenths) * MM_PER_INCH / 16.0,
            length_mm: match sixteenths.trailing_zeros() {
                0 => 2.2,
                1 => 3.2,
                2 => 4.2,
                3 => 5.2,
                _ => 6.5,
            },
            figure: sixteenths.is_multiple_of(16).then_some(sixteenths / 16),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn longest(ticks: &[Tick]) -> Vec<(f64, Option<u32>)> {
        ticks.iter().filter(|tick| tick.length_mm == 6.5).map(|tick| (tick.along_mm, tick.figure)).collect()
    }

    #[test]
    fn centimetres_are_the_longest_and_numbered() {
        let ticks = metric_ticks();
        assert_eq!(ticks.len(), 101);
        assert_eq!(longest(&ticks), (0..=10).map(|cm| (f64::from(cm) * 10.0, Some(cm))).collect::<Vec<_>>());
        assert!(ticks[45].length_mm > ticks[44].length_mm && ticks[45].length_mm < ticks[40].length_mm);
    }

    #[test]
    fn inches_are_the_longest_and_their_halves_shorten() {
        let ticks = inch_ticks();
        // The inch is 25.4 mm exactly (agreement of 1959, from memory); 1/8 in is 3.175 mm (exact arithmetic).
        assert_eq!(longest(&ticks), (0..=4).map(|inch| (f64::from(inch) * 25.4, Some(inch))).collect::<Vec<_>>());
        assert!((ticks[2].along_mm - 3.175).abs() < 1e-12);
        let halvings: Vec<f64> = [16, 8, 4, 2, 1].map(|at| ticks[at].length_mm).to_vec();
        assert!(halvings.is_sorted_by(|a, b| a > b), "{halvings:?}");
    }
}
