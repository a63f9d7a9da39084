//! The two sides' profiles along the seam: above as they lie, below as the fit lays them on one another.

use super::{Area, CURVE, Drawn, INK, axes, minus, seen};
use crate::finding::Finding;
use crate::report::phrase;
use plotters::prelude::*;

const CHANNELS: [&str; 3] = ["red", "green", "blue"];

/// How to read it.
pub fn reading(finding: &Finding) -> String {
    let [first, second] = finding.seam.runs.sides().map(phrase::side);
    let channel = CHANNELS[finding.offset.profiles.channel.min(2)];
    format!(
        "Above: the lines of each side as they meet the seam ({first} solid, {second} dashed), in {channel} light, where they \
         show most. Below: the same with the measured offset taken out; the better the two agree, the surer the answer."
    )
}

/// Both panels.
pub fn draw<DB: DrawingBackend>(area: &Area<DB>, finding: &Finding, fine: u32) -> Drawn
where
    DB::ErrorType: 'static,
{
    let profiles = &finding.offset.profiles;
    let unit = finding.unit();
    let both = || [&profiles.apart, &profiles.laid].into_iter().flatten();
    let most = both().flatten().flatten().fold(0.0f64, |most, v| most.max(v.abs())) * 1.1;
    let samples = both().map(Vec::len).max().unwrap_or(0);
    let step = profiles.step_mm / unit.per_place();
    let right = samples.saturating_sub(1) as f64 * step;
    if !(most.is_finite() && right.is_finite() && right > 0.0) {
        return Err("a profile is not a finite number".into());
    }
    let most = if most > 0.0 { most } else { 1.0 };
    let [_, height] = super::SIZE;
    let (above, below) = area.split_vertically((height * fine * 44 / 100) as i32);
    for (part, sides, words, foot) in
        [(&above, &profiles.apart, "as they lie", 6), (&below, &profiles.laid, "laid together", 44)]
    {
        let mut chart = ChartBuilder::on(part)
            .margin(8 * fine)
            .x_label_area_size(foot * fine)
            .y_label_area_size(66 * fine)
            .build_cartesian_2d(0.0..right, -most..most)?;
        let named = format!("along the seam, {} {}", unit.places(), phrase::start(finding.seam.runs));
        let mut mesh = axes(&mut chart, fine);
        mesh.y_labels(5).y_desc(words).y_label_formatter(&|v| minus(&format!("{v:.1}")));
        if foot > 10 {
            mesh.x_desc(named.as_str());
        }
        mesh.x_label_formatter(&|v| {
            if foot > 10 { minus(&format!("{v:.*}", usize::from(right < 12.0))) } else { String::new() }
        })
        .draw()?;
        for part in seen(&sides[0], step) {
            chart.draw_series(LineSeries::new(part, CURVE.stroke_width(2 * fine)))?;
        }
        for part in seen(&sides[1], step) {
            let [dash, gap] = [7 * fine as i32, 5 * fine as i32];
            chart.draw_series(DashedLineSeries::new(part, dash, gap, INK.stroke_width(2 * fine)))?;
        }
    }
    Ok(())
}
