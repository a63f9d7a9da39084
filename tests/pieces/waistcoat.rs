//! `seamstep demo --garment`: the two rendered waistcoats that stand in reports/waistcoat.

use super::run::{holds, seamstep, text};
use std::path::Path;
use tempfile::tempdir;

#[test]
fn the_demo_writes_the_waistcoats_that_the_reports_show() {
    let folder = tempdir().unwrap();
    let said = seamstep(&["demo", "--garment", "--folder", text(folder.path())]);
    assert_eq!(said.status, 0, "{}", said.stderr);
    let names = ["bought", "bought.html", "bought.toml", "compared.html", "handmade", "handmade.html", "handmade.toml"];
    holds(folder.path(), &names);
    let kept = Path::new("reports/waistcoat");
    for piece in ["bought", "handmade"] {
        let seams = ["centre-back.jpg", "centre-front.jpg", "left-side.jpg", "pocket.jpg", "right-side.jpg"];
        holds(&folder.path().join(piece), &seams);
        holds(&kept.join(piece), &seams);
        let read = |folder: &Path| std::fs::read_to_string(folder.join(format!("{piece}.toml"))).unwrap();
        assert_eq!(read(folder.path()), read(kept), "run seamstep demo --garment --folder reports/waistcoat");
    }
    let page = std::fs::read_to_string(folder.path().join("compared.html")).unwrap();
    assert!(page.contains("Bought waistcoat beside Handmade waistcoat") && page.matches("<img").count() == 5);
}
