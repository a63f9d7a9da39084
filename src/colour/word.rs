//! The plain word for a colour of the cloth: the nearest of a small table of anchors by CIEDE2000.

use super::Lab;

/// Anchors: a word and the 8-bit sRGB colours that carry it. The words are plain English; the anchors are this
/// project's own choice.
const ANCHORS: [(&str, &[[u8; 3]]); 15] = [
    ("white", &[[255, 255, 255], [238, 238, 238], [240, 240, 248]]),
    ("cream", &[[245, 236, 210], [232, 218, 184], [250, 240, 225]]),
    ("grey", &[[205, 205, 205], [165, 165, 165], [128, 128, 128], [92, 92, 92], [150, 155, 165]]),
    ("black", &[[10, 10, 10], [32, 32, 34], [48, 46, 46]]),
    ("red", &[[215, 25, 30], [165, 20, 30], [225, 60, 55], [120, 15, 25]]),
    ("rust", &[[183, 85, 45], [165, 72, 38], [200, 100, 60]]),
    ("orange", &[[240, 135, 25], [255, 160, 60]]),
    ("brown", &[[110, 70, 40], [75, 50, 35], [150, 110, 75]]),
    ("yellow", &[[250, 220, 40], [225, 190, 55], [245, 225, 120]]),
    ("green", &[[40, 140, 55], [25, 85, 45], [115, 165, 60], [150, 200, 140], [90, 110, 70]]),
    ("teal", &[[15, 125, 130], [40, 100, 105], [60, 165, 165]]),
    ("blue", &[[35, 90, 200], [75, 130, 205], [150, 190, 230], [70, 100, 150]]),
    ("navy", &[[22, 30, 75], [30, 40, 95], [28, 35, 60]]),
    ("purple", &[[115, 50, 150], [75, 35, 95], [165, 125, 195]]),
    ("pink", &[[240, 150, 175], [225, 85, 140], [245, 200, 210]]),
];

/// The word for an 8-bit sRGB colour, such as `rust` or `navy`.
pub fn colour_word(rgb: [u8; 3]) -> &'static str {
    let colour = Lab::from_srgb(rgb);
    let distance = |anchors: &[[u8; 3]]| {
        anchors.iter().map(|anchor| colour.difference(Lab::from_srgb(*anchor))).fold(f64::INFINITY, f64::min)
    };
    ANCHORS.iter().min_by(|one, two| distance(one.1).total_cmp(&distance(two.1))).map_or("unnamed", |(word, _)| word)
}

/// `#rrggbb`.
pub fn hex(rgb: [u8; 3]) -> String {
    format!("#{:02x}{:02x}{:02x}", rgb[0], rgb[1], rgb[2])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn obvious_colours_have_their_obvious_words() {
        // None of these is an anchor of the table.
        for (rgb, word) in [
            ([250, 250, 250], "white"),
            ([240, 228, 196], "cream"),
            ([140, 140, 142], "grey"),
            ([20, 20, 20], "black"),
            ([200, 30, 40], "red"),
            ([178, 80, 48], "rust"),
            ([245, 145, 40], "orange"),
            ([98, 62, 40], "brown"),
            ([240, 210, 50], "yellow"),
            ([50, 150, 70], "green"),
            ([20, 115, 120], "teal"),
            ([50, 100, 190], "blue"),
            ([25, 34, 82], "navy"),
            ([105, 55, 140], "purple"),
            ([235, 140, 170], "pink"),
        ] {
            assert_eq!(colour_word(rgb), word, "{rgb:?}");
        }
    }

    #[test]
    fn hex_has_six_digits() {
        assert_eq!(hex([1, 171, 255]), "#01abff");
    }
}
