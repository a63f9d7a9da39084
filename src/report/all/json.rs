//! One JSON object of the schema [`SCHEMA`]: each place as the answer of `check` for it alone.

use super::overall;
use crate::ask::Refused;
use crate::finding::PhotoFacts;
use crate::inspect::OneOfAll;
use crate::report::json;
use serde_json::{Value, json};

/// The schema's name and version.
pub const SCHEMA: &str = "seamstep/check-all/1";

/// The places in the order given; `standing` is the worst of those that can be judged.
pub fn all(photo: &PhotoFacts, seams: &[OneOfAll]) -> Value {
    let one = |one: &OneOfAll| match &one.came {
        Ok(finding) => json::finding(finding),
        Err(refusal) => json::refusal(
            &photo.file,
            &Refused {
                size_px: Some([photo.width_px, photo.height_px]),
                seams: vec![one.place.clone()],
                refusal: refusal.clone(),
            },
        ),
    };
    json!({
        "schema": SCHEMA,
        "photo": photo,
        "standing": overall(seams),
        "seams": seams.iter().map(one).collect::<Vec<_>>(),
    })
}
