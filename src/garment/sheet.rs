//! What came of every seam of a piece, and what follows for the whole.

use super::order::{self, Closing};
use super::{Garment, PieceSeam};
use crate::ask::{Answer, answer_of};
use crate::finding::Finding;
use crate::problem::Problem;
use crate::record::{Record, Standing, Subject};
use std::cmp::Ordering;

/// A piece that was judged.
#[derive(Debug)]
pub struct Sheet {
    /// The piece.
    pub garment: Garment,
    /// What came of each seam, in the order of [`Garment::seams`].
    pub rows: Vec<Row>,
    /// Indices of the seams, the worst first: by their standing, then by how many tolerances they jump.
    pub worst_first: Vec<usize>,
    /// What is worth redoing, in the order in which it is redone.
    pub redo: Vec<Step>,
    /// Minutes for all of [`Self::redo`], setting up counted once; `None` where there is nothing to redo.
    pub minutes: Option<f64>,
    /// How the piece stands: as its worst seam.
    pub standing: Standing,
}

/// What came of one seam.
#[derive(Debug)]
pub struct Row {
    /// The record of its photograph.
    pub record: Record,
    /// All that was measured; `None` where there is no answer.
    pub finding: Option<Box<Finding>>,
    /// Minutes to set up for redoing a seam at this stage: they are part of what each seam takes.
    pub setting_up_minutes: f64,
}

/// One seam to redo.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Its index.
    pub seam: usize,
    /// Later steps that close this seam.
    pub before: Vec<Closed>,
    /// Other seams of the piece that close it and are not redone: they must be opened where they cover it.
    pub opens: Vec<Closed>,
}

/// A seam that closes another.
#[derive(Clone, Debug, PartialEq)]
pub struct Closed {
    /// The index of the seam that closes it.
    pub by: usize,
    /// How.
    pub closing: &'static Closing,
}

impl Row {
    /// How many tolerances the lines jump at the worst place; 0 where no length was measured.
    fn tolerances(&self) -> f64 {
        let Some(measured) = &self.record.measured else { return 0.0 };
        let worst_mm = measured.lengths.map_or(0.0, |lengths| lengths.worst_mm.abs());
        // A tolerance of nothing is exceeded by far.
        worst_mm / measured.tolerance_mm.max(1e-3)
    }

    fn worth_redoing(&self) -> bool {
        self.record.measured.as_ref().is_some_and(|measured| measured.worth_unpicking == Some(true))
    }
}

/// Whoever is told what came of each seam's photograph, by its index.
pub type Seen<'a> = dyn FnMut(usize, &Result<Answer, Problem>) -> Result<(), Problem> + 'a;

/// Measures the seams of a piece one after the other, one photograph in memory at a time; `seen` is told what came of each,
/// with its index, while its photograph is still there.
///
/// # Errors
/// [`Problem::Usage`] and [`Problem::Io`] where a question cannot be asked at all (the settings), and what `seen` returns. A
/// photograph that is missing or refused is a row.
pub fn judge(garment: Garment, seen: &mut Seen<'_>) -> Result<Sheet, Problem> {
    let questions = garment.seams.iter().map(|seam| seam.ask().question(&seam.photo)).collect::<Result<Vec<_>, _>>()?;
    let mut rows = Vec::with_capacity(questions.len());
    for (k, (seam, question)) in garment.seams.iter().zip(&questions).enumerate() {
        let answer = answer_of(&seam.photo, question);
        seen(k, &answer)?;
        let record = Record::of(subject(&garment, seam), &answer);
        let finding = match answer {
            Ok(Answer::Found { finding, .. }) => Some(finding),
            _ => None,
        };
        let setting_up_minutes = question.rules.minutes(question.stage, 0.0);
        rows.push(Row { record, finding, setting_up_minutes });
    }
    Ok(Sheet::of(garment, rows))
}

fn subject(garment: &Garment, seam: &PieceSeam) -> Subject {
    Subject {
        file: seam.photo.display().to_string(),
        piece: Some(garment.name.clone()),
        place: Some(seam.place),
        by: None,
    }
}

impl Sheet {
    /// What follows from what came of the seams; `rows` in the order of [`Garment::seams`], as many as there.
    pub fn of(garment: Garment, rows: Vec<Row>) -> Self {
        let worse = |a: &usize, b: &usize| -> Ordering {
            let (a, b) = (&rows[*a], &rows[*b]);
            b.record.standing.cmp(&a.record.standing).then(b.tolerances().total_cmp(&a.tolerances()))
        };
        let mut worst_first: Vec<usize> = (0..rows.len()).collect();
        worst_first.sort_by(worse);
        let redo = steps(&garment, &rows);
        let again = || redo.iter().map(|step| &rows[step.seam]);
        let minutes = again()
            .filter_map(|row| Some((row.record.measured.as_ref()?.minutes?, row.setting_up_minutes)))
            .map(|(minutes, setting_up)| (minutes - setting_up).max(0.0))
            .reduce(|a, b| a + b)
            .map(|work| work + again().map(|row| row.setting_up_minutes).fold(0.0, f64::max));
        let standing = rows.iter().map(|row| row.record.standing).max().unwrap_or(Standing::Trouble);
        Sheet { garment, rows, worst_first, redo, minutes, standing }
    }

    /// How many seams stand so.
    pub fn count(&self, standing: Standing) -> usize {
        self.rows.iter().filter(|row| row.record.standing == standing).count()
    }
}

fn steps(garment: &Garment, rows: &[Row]) -> Vec<Step> {
    let again: Vec<usize> = (0..rows.len()).filter(|&k| rows[k].worth_redoing()).collect();
    let place = |k: usize| garment.seams[k].place;
    let places: Vec<_> = again.iter().map(|&k| place(k)).collect();
    let badness: Vec<f64> = again.iter().map(|&k| rows[k].tolerances()).collect();
    let in_order = order::order(&places, &badness).into_iter().map(|j| again[j]);
    in_order
        .map(|seam| {
            let closed =
                (0..rows.len()).filter_map(|by| Some(Closed { by, closing: order::closing(place(seam), place(by))? }));
            let (before, opens) = closed.partition(|closed| again.contains(&closed.by));
            Step { seam, before, opens }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::garment::file;
    use crate::problem::{Refusal, RefusalCode};
    use crate::record::summary::Share;
    use crate::record::{Lengths, Summary};
    use crate::remedy::Action;
    use crate::verdict::Judgement;
    use std::path::Path;

    /// Minutes to set up of every row below.
    const SETTING_UP: f64 = 3.0;

    fn row(seam: &PieceSeam, garment: &Garment, jump_mm: Option<f64>) -> Row {
        let subject = subject(garment, seam);
        let record = match jump_mm {
            None => {
                let refusal = Refusal::new(RefusalCode::NoLines, "no lines", "light it");
                Record::of(subject, &Ok(Answer::Refused(refusal.into())))
            }
            Some(worst_mm) => {
                let off = worst_mm > 1.0;
                let result = if off { Judgement::Off } else { Judgement::Matched };
                let lengths = Lengths {
                    seam_mm: 100.0,
                    repeat_mm: None,
                    mean_mm: worst_mm,
                    mean_standard_uncertainty_mm: 0.05,
                    mean_freedom: None,
                    mean_expanded_uncertainty_mm: 0.1,
                    worst_mm,
                    worst_expanded_uncertainty_mm: 0.1,
                    worst_at_mm: 50.0,
                    within: Share { best: 0.5, least: 0.4, most: 0.6 },
                };
                let measured = Summary {
                    result,
                    place: seam.place,
                    tolerance_mm: 1.0,
                    reason: String::new(),
                    action: if off { Action::RepinWhole } else { Action::Leave },
                    worth_unpicking: Some(off),
                    minutes: off.then_some(10.0),
                    visible_from_m: None,
                    lengths: Some(lengths),
                };
                Record { subject, standing: result.into(), measured: Some(measured), instead: None }
            }
        };
        Row { record, finding: None, setting_up_minutes: SETTING_UP }
    }

    fn sheet(seams: &[(&str, Option<f64>)]) -> Sheet {
        let mut text = "name = \"Skirt\"\n".to_owned();
        for (k, (place, _)) in seams.iter().enumerate() {
            text += &format!("[[seam]]\nname = \"{k}\"\nplace = \"{place}\"\nphoto = \"{k}.jpg\"\n");
        }
        let garment = file::parse(&text, Path::new("skirt.toml")).unwrap();
        let rows = garment.seams.iter().zip(seams).map(|(seam, (_, jump))| row(seam, &garment, *jump)).collect();
        Sheet::of(garment, rows)
    }

    #[test]
    fn the_worst_wins_and_stands_first() {
        let sheet = sheet(&[("hem", Some(0.5)), ("zip", None), ("collar", Some(2.0)), ("yoke", Some(3.0))]);
        assert_eq!(sheet.standing, Standing::Off);
        assert_eq!(sheet.worst_first, [3, 2, 1, 0]);
        assert_eq!((sheet.count(Standing::Off), sheet.count(Standing::Refused)), (2, 1));
        assert_eq!(self::sheet(&[("hem", Some(0.5)), ("zip", None)]).standing, Standing::Refused);
        let matched = self::sheet(&[("hem", Some(0.5))]);
        assert_eq!((matched.standing, matched.minutes, matched.redo.len()), (Standing::Matched, None, 0));
    }

    #[test]
    fn what_is_closed_is_redone_first_and_setting_up_counts_once() {
        let sheet = sheet(&[
            ("waistband", Some(5.0)),
            ("centre-back", Some(2.0)),
            ("side-seam", Some(3.0)),
            ("hem", Some(0.2)),
            ("zip", None),
        ]);
        let order: Vec<usize> = sheet.redo.iter().map(|step| step.seam).collect();
        assert_eq!(order, [2, 1, 0]);
        let back = &sheet.redo[1];
        let by = |closed: &[Closed]| closed.iter().map(|c| c.by).collect::<Vec<_>>();
        assert_eq!((by(&back.before), by(&back.opens)), (vec![0], vec![3, 4]));
        assert_eq!(back.before[0].closing.does, "covers its end");
        // Three times ten minutes, of which three are for setting up.
        assert_eq!(sheet.minutes, Some(3.0 * 10.0 - 2.0 * SETTING_UP));
    }
}
