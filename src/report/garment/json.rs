//! The sheet for programs: one object of the schema [`SCHEMA`].

use super::phrase;
use crate::garment::Sheet;
use crate::garment::sheet::Closed;
use crate::report::json::number;
use serde_json::{Value, json};

/// The schema's name and version.
pub const SCHEMA: &str = "seamstep/garment/1";

/// The sheet as one JSON object; seams stand the worst first, steps in the order of redoing.
pub fn sheet(sheet: &Sheet) -> Value {
    let garment = &sheet.garment;
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "file": garment.file.display().to_string(),
        "name": garment.name,
        "stage": garment.stage,
        "cloth": garment.cloth,
        "standing": sheet.standing,
        "overall": phrase::overall(sheet),
        "minutes": sheet.minutes.map_or(Value::Null, number),
        "redo": sheet.redo.iter().map(|step| json!({
            "seam": name(sheet, step.seam),
            "instruction": phrase::instruction(sheet, step),
            "before": closed(sheet, &step.before),
            "opens": closed(sheet, &step.opens),
        })).collect::<Vec<_>>(),
        "seams": sheet.worst_first.iter().map(|&k| seam(sheet, k)).collect::<Vec<_>>(),
        "cautions": phrase::cautions(sheet),
    })
}

fn seam(sheet: &Sheet, k: usize) -> Value {
    let (seam, row) = (&sheet.garment.seams[k], &sheet.rows[k]);
    let finding = row.finding.as_deref();
    json!({
        "name": seam.name,
        "place": seam.place,
        "photo": row.record.subject.file,
        "standing": row.record.standing,
        "measured": row.record.measured,
        "cure": finding.and_then(|finding| finding.verdict.cure.clone()),
        "instruction": finding.map(|finding| finding.remedy.instruction.clone()),
        "notes": finding.map(|finding| finding.notes.clone()),
        "instead": row.record.instead,
    })
}

fn closed(sheet: &Sheet, closed: &[Closed]) -> Vec<Value> {
    closed.iter().map(|c| json!({ "seam": name(sheet, c.by), "does": c.closing.does })).collect()
}

fn name(sheet: &Sheet, k: usize) -> &str {
    &sheet.garment.seams[k].name
}
