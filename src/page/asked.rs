//! What is asked about a photograph, as the form's fields hold it → [`Question`].

use crate::conventions::Runs;
use crate::digits::Unit;
use crate::inspect::Question;
use crate::problem::Problem;
use crate::remedy::Stage;
use crate::scale::ScaleRequest;
use crate::seam::SeamRequest;
use crate::settings::Settings;
use crate::units::PxPoint;
use crate::verdict::{Demand, Place};
use crate::written::{self, length_mm};
use clap::ValueEnum;
use serde::{Deserialize, Serialize};

/// The form's fields. What is not said is an empty text.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Asked {
    /// The piece of work that the seam belongs to; seams of one piece are shown together.
    pub piece: String,
    /// Place on the garment.
    pub place: String,
    /// How far the work has gone.
    pub stage: String,
    /// The user's own tolerance, with or without a unit.
    pub tolerance: String,
    /// `mm` or `in`.
    pub units: String,
    /// Points of the seam, `X,Y X,Y …` in pixels; empty: it is looked for.
    pub seam: String,
    /// `yes`: the seam is where its points are, whatever shows there.
    pub insist: String,
    /// `down`, `across`, or empty: it is decided.
    pub along: String,
    /// What gives the scale: `card` (if there is one), `length`, `rectangle` or `repeat`.
    pub scale: String,
    /// Two points of a known distance, `X,Y X,Y`.
    pub ends: String,
    /// Their distance.
    pub length: String,
    /// Four corners of a thing of known size, clockwise from its top left, `X,Y X,Y X,Y X,Y`.
    pub corners: String,
    /// Length of its top edge.
    pub width: String,
    /// Length of its left edge.
    pub height: String,
    /// The cloth's repeat along the seam.
    pub repeat: String,
}

impl Asked {
    /// The stage; as the command line has it where none is said.
    pub fn stage(&self) -> Result<Stage, Problem> {
        said(&self.stage, "the stage").map(Option::unwrap_or_default)
    }

    /// The place, where one is said.
    pub fn place(&self) -> Result<Option<Place>, Problem> {
        said(&self.place, "the place")
    }

    /// What lengths are told in; `usual` where it is not said.
    pub fn unit(&self, usual: Unit) -> Result<Unit, Problem> {
        match self.units.as_str() {
            "" => Ok(usual),
            "mm" => Ok(Unit::Millimetre),
            "in" => Ok(Unit::Sixteenth),
            other => Err(Problem::usage(format!("the unit {other:?} is not known"), "choose mm or in")),
        }
    }

    /// The question that these fields ask.
    ///
    /// # Errors
    /// [`Problem::Usage`] with the field and what would have worked.
    pub fn question(&self, settings: &Settings, usual: Unit) -> Result<Question, Problem> {
        let tolerance_mm = match self.tolerance.trim() {
            "" => None,
            text => Some(written::tolerance(text).map_err(|e| Problem::usage(e, "leave it empty for the usual one"))?),
        };
        let runs = match self.along.as_str() {
            "" => None,
            "down" => Some(Runs::Down),
            "across" => Some(Runs::Across),
            other => return Err(Problem::usage(format!("a seam cannot run {other:?}"), "choose down or across")),
        };
        let seam = SeamRequest {
            points_px: if self.seam.trim().is_empty() { vec![] } else { marks(&self.seam)? },
            runs,
            insist: self.insist == "yes",
        };
        let demand =
            Demand { place: self.place()?, tolerance_mm, own: settings.tolerances.clone(), unit: self.unit(usual)? };
        demand.check()?;
        Ok(Question { scale: self.scale()?, seam, demand, stage: self.stage()?, rules: settings.rules })
    }

    fn scale(&self) -> Result<ScaleRequest, Problem> {
        match self.scale.as_str() {
            "" | "card" => Ok(ScaleRequest::Auto),
            "length" => match marks(&self.ends)?[..] {
                [from, to] => Ok(ScaleRequest::Length {
                    ends_px: [from, to],
                    length_mm: length(&self.length, "the distance of the two points")?,
                }),
                _ => Err(Problem::usage("two points are needed for a known length", "mark both ends in the picture")),
            },
            "rectangle" => match marks(&self.corners)?[..] {
                [a, b, c, d] => Ok(ScaleRequest::Rectangle {
                    corners_px: [a, b, c, d],
                    width_mm: length(&self.width, "the length of the top edge")?,
                    height_mm: length(&self.height, "the length of the left edge")?,
                }),
                _ => Err(Problem::usage("four corners are needed", "mark them clockwise from the top left")),
            },
            "repeat" => Ok(ScaleRequest::Repeat { repeat_mm: length(&self.repeat, "the repeat")? }),
            other => Err(Problem::usage(
                format!("the scale cannot come from {other:?}"),
                "choose the card, two points, a thing of known size, or the repeat",
            )),
        }
    }
}

fn said<T: ValueEnum>(text: &str, what: &str) -> Result<Option<T>, Problem> {
    match text {
        "" => Ok(None),
        text => T::from_str(text, false).map(Some).map_err(|_| {
            let known: Vec<String> =
                T::value_variants().iter().filter_map(|v| Some(v.to_possible_value()?.get_name().to_owned())).collect();
            Problem::usage(format!("{what} {text:?} is not known"), format!("choose one of {}", known.join(", ")))
        }),
    }
}

fn marks(text: &str) -> Result<Vec<PxPoint>, Problem> {
    written::points(text).map_err(|e| Problem::usage(e, "mark the points in the picture again"))
}

fn length(text: &str, what: &str) -> Result<f64, Problem> {
    length_mm(text).ok_or_else(|| {
        Problem::usage(format!("{what} is not given: {text:?}"), "give millimetres, or inches as 4in or 3 1/2in")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(change: impl FnOnce(&mut Asked)) -> Result<Question, Problem> {
        let mut asked = Asked::default();
        change(&mut asked);
        asked.question(&Settings::default(), Unit::Millimetre)
    }

    #[test]
    fn nothing_said_is_what_check_asks() {
        let plain = ask(|_| ()).unwrap();
        let usual = Question::default();
        assert_eq!(
            (plain.scale, plain.seam, plain.demand, plain.stage),
            (usual.scale, usual.seam, usual.demand, usual.stage)
        );
    }

    #[test]
    fn every_field_reaches_the_question() {
        let all = ask(|a| {
            a.place = "side-seam".into();
            a.stage = "finished".into();
            a.tolerance = "1/16in".into();
            a.units = "in".into();
            a.seam = "1,2 3,400".into();
            a.along = "down".into();
            a.scale = "rectangle".into();
            a.corners = "0,0 10,0 10,5 0,5".into();
            a.width = "148".into();
            a.height = "4in".into();
        })
        .unwrap();
        assert_eq!(all.demand.place, Some(Place::SideSeam));
        assert_eq!(
            (all.demand.tolerance_mm, all.demand.unit, all.stage),
            (Some(1.5875), Unit::Sixteenth, Stage::Finished)
        );
        assert_eq!((all.seam.points_px.len(), all.seam.runs), (2, Some(Runs::Down)));
        let ScaleRequest::Rectangle { width_mm, height_mm, .. } = all.scale else { panic!("{:?}", all.scale) };
        assert_eq!((width_mm, height_mm), (148.0, 101.6));
        let by_length = ask(|a| {
            a.scale = "length".into();
            a.ends = "1,1 1,50".into();
            a.length = "100".into();
        });
        assert!(matches!(by_length.unwrap().scale, ScaleRequest::Length { length_mm: 100.0, .. }));
        let by_repeat = ask(|a| {
            a.scale = "repeat".into();
            a.repeat = "36".into();
        });
        assert!(matches!(by_repeat.unwrap().scale, ScaleRequest::Repeat { repeat_mm: 36.0 }));
    }

    #[test]
    fn what_cannot_be_asked_says_what_would_work() {
        let wrong: [&dyn Fn(&mut Asked); 11] = [
            &|a| a.place = "elbow".into(),
            &|a| a.stage = "cut".into(),
            &|a| a.tolerance = "wide".into(),
            &|a| a.tolerance = "-1".into(),
            &|a| a.units = "yards".into(),
            &|a| a.seam = "1,2".into(),
            &|a| a.along = "round".into(),
            &|a| a.scale = "guess".into(),
            &|a| a.scale = "length".into(),
            &|a| a.scale = "rectangle".into(),
            &|a| a.scale = "repeat".into(),
        ];
        for (k, change) in wrong.iter().enumerate() {
            let problem = ask(|a| change(a)).unwrap_err();
            assert!(matches!(problem, Problem::Usage { .. }) && problem.help().len() > 10, "{k}: {problem}");
        }
    }
}
