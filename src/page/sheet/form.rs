//! The form's fields: what is asked about a photograph.

use crate::digits::{self, Unit};
use crate::page::asked::Asked;
use crate::page::server::Shared;
use crate::remedy::Stage;
use crate::verdict::{Demand, Place};
use clap::ValueEnum;
use maud::{Markup, html};

/// Things of known size that lie about, with the length of their top and left edge, millimetres: ISO 216 sheets, and the
/// card of ISO/IEC 7810 (ID-1).
const KNOWN_THINGS: [(&str, &str, &str); 5] = [
    ("A5 sheet, upright", "148", "210"),
    ("A5 sheet, lying", "210", "148"),
    ("A4 sheet, upright", "210", "297"),
    ("A4 sheet, lying", "297", "210"),
    ("Bank card, lying", "85.6", "53.98"),
];

/// Place on the garment, with what is accepted there.
pub fn place_field(asked: &Asked, shared: &Shared) -> Markup {
    let unit = asked.unit(shared.unit).unwrap_or(shared.unit);
    let accepted = |place: Place| {
        let demand = Demand { place: Some(place), own: shared.settings.tolerances.clone(), ..Demand::default() };
        digits::given(demand.tolerance().0, unit)
    };
    html! {
        p.field {
            label for="place" { "Place on the garment" }
            select id="place" name="place" {
                option value="" selected[asked.place.is_empty()] { "Not said (" (accepted(Place::Other)) ")" }
                @for place in Place::value_variants() {
                    option value=(place.word()) selected[asked.place == place.word()] {
                        (title(place.word())) " (" (accepted(*place)) ")"
                    }
                }
            }
        }
    }
}

/// How far the work has gone.
pub fn stage_field(asked: &Asked) -> Markup {
    let now = asked.stage().unwrap_or_default();
    html! {
        p.field {
            label for="stage" { "The seam is" }
            select id="stage" name="stage" {
                @for stage in Stage::value_variants() {
                    @if let Some(value) = stage.to_possible_value() {
                        option value=(value.get_name()) selected[*stage == now] { (value.get_name()) }
                    }
                }
            }
        }
    }
}

/// The whole form of a photograph's sheet.
pub fn asked_fields(asked: &Asked, shared: &Shared) -> Markup {
    let inches = asked.unit(shared.unit).unwrap_or_default() == Unit::Sixteenth;
    html! {
        fieldset {
            legend { "What is accepted" }
            div.fields {
                (place_field(asked, shared))
                (stage_field(asked))
                p.field {
                    label for="tolerance" { "Your own tolerance" }
                    input id="tolerance" type="text" name="tolerance" value=(asked.tolerance) maxlength="20" autocomplete="off"
                        placeholder="as usual there" aria-describedby="tolerance-help";
                    span.soft id="tolerance-help" { "Millimetres, or as 1/16in." }
                }
                p.field {
                    label for="units" { "Told in" }
                    select id="units" name="units" {
                        option value="mm" selected[!inches] { "millimetres" }
                        option value="in" selected[inches] { "sixteenths of an inch" }
                    }
                }
                p.field {
                    label for="piece" { "Piece of work" }
                    input id="piece" type="text" name="piece" value=(asked.piece) maxlength="60" autocomplete="off";
                }
            }
        }
        (scale_fields(asked))
        fieldset {
            legend { "Where the seam is" }
            p.soft { "Left to itself, the seam is looked for. Where another line was taken for it, mark it." }
            div.fields {
                p.field {
                    label for="along" { "It runs" }
                    select id="along" name="along" {
                        option value="" selected[asked.along.is_empty()] { "either way" }
                        option value="down" selected[asked.along == "down"] { "down the picture" }
                        option value="across" selected[asked.along == "across"] { "across the picture" }
                    }
                }
                p.field.figures {
                    label for="points" { "Its points, as x,y in pixels" }
                    input id="points" type="text" name="seam" value=(asked.seam) placeholder="looked for" autocomplete="off";
                }
            }
        }
    }
}

fn scale_fields(asked: &Asked) -> Markup {
    let choice = |value: &str, words: &str| {
        let now = if asked.scale.is_empty() { "card" } else { &asked.scale };
        html! {
            label.choice {
                input type="radio" name="scale" value=(value) checked[now == value];
                span { (words) }
            }
        }
    };
    let figure = |name: &str, value: &str, words: &str, example: &str| {
        html! {
            p.field {
                label for=(name) { (words) }
                input id=(name) type="text" name=(name) value=(value) maxlength="20" autocomplete="off" placeholder=(example);
            }
        }
    };
    html! {
        fieldset.scale {
            legend { "What gives the scale" }
            (choice("card", "The printed card in the picture"))
            (choice("length", "Two points a known length apart"))
            (choice("rectangle", "A thing of known size"))
            (choice("repeat", "The cloth's repeat, measured flat"))
            div.by.length {
                p.soft.marks { "Drag the two square marks to both ends of the length, on a tape for example." }
                div.fields {
                    (figure("length", &asked.length, "They are apart", "100 mm"))
                    p.field.figures {
                        label for="ends" { "The two points, as x,y in pixels" }
                        input id="ends" type="text" name="ends" value=(asked.ends) autocomplete="off";
                    }
                }
            }
            div.by.rectangle {
                p.soft.marks { "Drag the four square marks to its corners, clockwise from the top left." }
                div.fields {
                    p.field.scripted {
                        label for="thing" { "It is" }
                        select id="thing" {
                            option value="" { "of another size" }
                            @for (words, width, height) in KNOWN_THINGS {
                                option value={ (width) "x" (height) } selected[asked.width == width && asked.height == height] { (words) }
                            }
                        }
                    }
                    (figure("width", &asked.width, "Top edge", "148 mm"))
                    (figure("height", &asked.height, "Left edge", "210 mm"))
                    p.field.figures {
                        label for="corners" { "Its corners, as x,y in pixels" }
                        input id="corners" type="text" name="corners" value=(asked.corners) autocomplete="off";
                    }
                }
            }
            div.by.repeat {
                div.fields { (figure("repeat", &asked.repeat, "One repeat along the seam", "36 mm")) }
            }
        }
    }
}

/// A word of the command line as a title: `centre-back` is Centre back.
fn title(word: &str) -> String {
    let plain = word.replace('-', " ");
    crate::report::phrase::sentence(&plain).trim_end_matches('.').to_owned()
}
