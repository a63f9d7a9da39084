//! The corridor: one photograph through every room, one line a room.

use crate::finding::{Finding, PhotoFacts};
use crate::lines::{self, Lines};
use crate::offset::{self, Offset};
use crate::photo::{Photo, sharpness};
use crate::problem::{Note, Problem, Refusal, RefusalCode};
use crate::remedy::custom::Rules;
use crate::remedy::{self, Evidence, Stage};
use crate::scale::{self, Plane, ScaleRequest};
use crate::seam::{self, Seam, SeamInPicture, SeamRequest};
use crate::strip::{self, Strips};
use crate::threads;
use crate::verdict::{self, Demand};

/// What is asked about a photograph.
#[derive(Clone, Debug, Default)]
pub struct Question {
    /// Where the scale comes from.
    pub scale: ScaleRequest,
    /// Where the seam is.
    pub seam: SeamRequest,
    /// What it is judged by.
    pub demand: Demand,
    /// How far the work has gone.
    pub stage: Stage,
    /// Rules of thumb of the sewing table.
    pub rules: Rules,
}

/// A room that the corridor has come out of, with what it holds, told on the way.
#[derive(Clone, Copy, Debug)]
pub enum Reached<'a> {
    /// The scale.
    Scale(&'a Plane),
    /// The seam, on its plane.
    Seam(&'a Plane, &'a Seam),
    /// The lines of the two sides.
    Lines(&'a Lines),
    /// The offset.
    Offset(&'a Offset),
}

/// Measures and judges the seam of a photograph.
///
/// # Errors
/// [`Problem::Usage`] when the question cannot be asked, [`Problem::Refused`] when the photograph cannot answer it.
pub fn inspect(photo: &Photo, question: &Question) -> Result<Finding, Problem> {
    inspect_telling(photo, question, &mut |_| ())
}

/// [`inspect`], which tells on the way how far it has come; by `--repeat` it comes out of a room twice.
///
/// # Errors
/// As [`inspect`].
pub fn inspect_telling(
    photo: &Photo,
    question: &Question,
    tell: &mut (dyn FnMut(Reached<'_>) + Send),
) -> Result<Finding, Problem> {
    threads::together(|| walk(photo, question, tell))
}

/// One of the places of a photograph where a seam may be.
#[derive(Clone, Debug)]
pub struct OneOfAll {
    /// Where.
    pub place: SeamInPicture,
    /// What came of it, or why it cannot be judged.
    pub came: Result<Box<Finding>, Refusal>,
}

/// Measures and judges every place of a photograph where a seam may be; points of a seam are not asked for. By `--repeat` the seam
/// that is measured alone gives the scale to all.
///
/// # Errors
/// As [`inspect`], where no place can be looked for.
pub fn inspect_all(photo: &Photo, question: &Question) -> Result<Vec<OneOfAll>, Problem> {
    threads::together(|| {
        let plane = plane_of(photo, question)?;
        let plane = match question.scale {
            ScaleRequest::Repeat { .. } => walk_to_the_lines(photo, plane, question, &mut |_| ())?.0,
            _ => plane,
        };
        let one = |seam: Seam| {
            let place = seam.in_picture(&plane).swap_remove(0);
            let came = lines_beside(photo, &plane, &seam)
                .and_then(|(strips, lines)| judge(photo, question, (plane.clone(), seam, strips, lines), &mut |_| ()));
            OneOfAll { place, came: came.map(Box::new) }
        };
        Ok(seam::find::all(photo, &plane, question.seam.runs)?.into_iter().map(one).collect())
    })
}

/// The scale of a photograph that is sharp enough, under a question that can be asked.
fn plane_of(photo: &Photo, question: &Question) -> Result<Plane, Problem> {
    question.demand.check()?;
    sharpness::check(photo)?;
    scale::read(photo, &question.scale)
}

/// From the seam to the lines.
fn lines_beside(photo: &Photo, plane: &Plane, seam: &Seam) -> Result<(Strips, Lines), Refusal> {
    let strips = strip::cut(photo, plane, seam)?;
    let lines = lines::measure(&strips)?;
    Ok((strips, lines))
}

/// From room to room.
fn walk(photo: &Photo, question: &Question, tell: &mut (dyn FnMut(Reached<'_>) + Send)) -> Result<Finding, Problem> {
    let plane = plane_of(photo, question)?;
    tell(Reached::Scale(&plane));
    let (plane, seam, strips, lines) = walk_to_the_lines(photo, plane, question, tell)?;
    Ok(judge(photo, question, (plane, seam, strips, lines), tell)?)
}

/// From the lines on.
fn judge(
    photo: &Photo,
    question: &Question,
    (plane, seam, strips, lines): (Plane, Seam, Strips, Lines),
    tell: &mut (dyn FnMut(Reached<'_>) + Send),
) -> Result<Finding, Refusal> {
    let lens_relative = plane.lens.relative_along(&seam.points_px(&plane));
    let lines = lines.with_scale(plane.relative_uncertainty.hypot(lens_relative));
    let offset = offset::measure(&plane, &seam, &strips, &lines)?;
    tell(Reached::Offset(&offset));
    let offset = if plane.is_metric() { offset } else { offset.in_repeats(&lines)? };
    let verdict = verdict::decide(&plane, &seam, &offset, &question.demand);
    let evidence = Evidence { plane: &plane, seam: &seam, lines: &lines, offset: &offset, verdict: &verdict };
    let remedy = remedy::work_out(evidence, question.stage, &question.rules);
    let notes: Vec<Note> =
        [&plane.notes, &seam.notes, &lines.notes, &verdict.notes].into_iter().flatten().cloned().collect();
    Ok(Finding {
        photo: PhotoFacts::of(photo),
        excluded_share: strips.sides.each_ref().map(|side| side.excluded_share),
        plane,
        seam,
        lines,
        offset,
        verdict,
        remedy,
        stage: question.stage,
        notes,
    })
}

/// Scale given by the cloth's own repeat is known only once the lines are: they are walked to twice.
fn walk_to_the_lines(
    photo: &Photo,
    plane: Plane,
    question: &Question,
    tell: &mut (dyn FnMut(Reached<'_>) + Send),
) -> Result<(Plane, Seam, Strips, Lines), Problem> {
    let mut walk = |plane: &Plane| -> Result<(Seam, Strips, Lines), Problem> {
        let seam = seam::place(photo, plane, &question.seam)?;
        tell(Reached::Seam(plane, &seam));
        let (strips, lines) = lines_beside(photo, plane, &seam)?;
        tell(Reached::Lines(&lines));
        Ok((seam, strips, lines))
    };
    let (seam, strips, lines) = walk(&plane)?;
    let ScaleRequest::Repeat { repeat_mm } = question.scale else { return Ok((plane, seam, strips, lines)) };
    let Some((measured, uncertainty)) = lines.repeat_mm() else {
        return Err(Refusal::new(
            RefusalCode::TooFewLines,
            "less than one whole repeat of the cloth is seen along the seam, so it gives no scale (--repeat)",
            "photograph a longer piece of the seam, or lay the scale card beside it",
        )
        .into());
    };
    let plane = plane.with_repeat(measured, uncertainty, &seam.points_px(&plane), repeat_mm);
    scale::check_extent(photo, &plane)?;
    let (seam, strips, lines) = walk(&plane)?;
    Ok((plane, seam, strips, lines))
}
