//! A garment file to begin with.

/// A commented garment file that can be read as it stands: every key is there, those that can be left out as comments.
pub const EXAMPLE: &str = r##"# A piece and its seams. Judge it with: seamstep garment THIS-FILE.toml
# Lines that begin with # are comments; take the # away from what you need.

name = "Skirt"
stage = "basted"            # basted, sewn, or finished (lined, pressed)
# cloth = "grey wool in a red check"
# units = "in"              # tell lengths in sixteenths of an inch
# settings = "seamstep.toml"  # else looked for from each photograph's folder up

# One [[seam]] for each seam. place and photo are needed; photographs are named
# from this file's folder. Places: centre-back, centre-front, side-seam, zip,
# waistband, pocket, yoke, sleeve, collar, hem, inside, other.
[[seam]]
place = "centre-back"
photo = "centre-back.jpg"
# tolerance = 1.5           # millimetres, or inches: "1/16in"; else the place's

[[seam]]
name = "Left side"          # two seams of one place need names of their own
place = "side-seam"
photo = "left-side.jpg"
# The seam is found; or say where it is, in pixels of the upright picture:
# seam = "600,20 610,880"
# insist = true             # the seam is there, whether or not one shows
# along = "down"            # or "across": how it runs in the picture

[[seam]]
name = "Right side"
place = "side-seam"
photo = "right-side.jpg"
# The scale comes from the printed card; or from one of these:
# card = true               # the card must be there
# rectangle = "10,10,300,12,298,220,8,215,148x105"  # corners, clockwise; mm
# length = "120,60,118,840,100"                     # two points; mm
# repeat = 36               # the cloth's repeat along the seam, mm
"##;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::garment::file::parse;
    use crate::remedy::Stage;
    use std::path::Path;

    #[test]
    fn the_example_can_be_read_as_it_stands() {
        let garment = parse(EXAMPLE, Path::new("skirt.toml")).unwrap();
        assert_eq!((garment.name.as_str(), garment.stage, garment.seams.len()), ("Skirt", Stage::Basted, 3));
        assert!(EXAMPLE.lines().all(|line| line.chars().count() <= 80));
    }

    #[test]
    fn every_key_in_a_comment_can_be_used() {
        let is_key = |line: &str| {
            let word = line.split(" = ").next().unwrap_or_default();
            line.contains(" = ") && word.chars().all(|c| c.is_ascii_lowercase())
        };
        let keys: Vec<&str> = EXAMPLE.lines().filter_map(|l| l.strip_prefix("# ")).filter(|l| is_key(l)).collect();
        assert_eq!(keys.len(), 11, "{keys:?}");
        for key in keys {
            // The key where it stands, without its mark of a comment.
            parse(&EXAMPLE.replace(&format!("# {key}"), key), Path::new("skirt.toml"))
                .unwrap_or_else(|problem| panic!("{key}: {problem}"));
        }
    }
}
