//! The plain word for a colour of the cloth: the nearest of a small table of anchors by CIEDE2000; and the names of a
//! cloth's lines, so that each thread has one name and two threads have two.

use super::Lab;

/// Anchors: a word and the 8-bit sRGB colours that carry it. The words are plain English; the anchors are this
/// project's own choice.
const ANCHORS: [(&str, &[[u8; 3]]); 15] = [
    ("white", &[[255, 255, 255], [238, 238, 238], [240, 240, 248]]),
    ("cream", &[[245, 236, 210], [232, 218, 184], [250, 240, 225]]),
    ("grey", &[[205, 205, 205], [165, 165, 165], [128, 128, 128], [92, 92, 92], [150, 155, 165]]),
    ("black", &[[10, 10, 10], [32, 32, 34], [48, 46, 46]]),
    ("red", &[[215, 25, 30], [165, 20, 30], [225, 60, 55], [120, 15, 25]]),
    ("rust", &[[183, 85, 45], [165, 72, 38], [200, 100, 60], [196, 130, 104]]),
    ("orange", &[[240, 135, 25], [255, 160, 60]]),
    ("brown", &[[110, 70, 40], [75, 50, 35], [150, 110, 75], [185, 155, 125], [120, 98, 80]]),
    ("yellow", &[[250, 220, 40], [225, 190, 55], [245, 225, 120]]),
    (
        "green",
        &[[40, 140, 55], [25, 85, 45], [115, 165, 60], [150, 200, 140], [90, 110, 70], [150, 165, 140], [85, 100, 85]],
    ),
    ("teal", &[[15, 125, 130], [40, 100, 105], [60, 165, 165]]),
    ("blue", &[[35, 90, 200], [75, 130, 205], [150, 190, 230], [70, 100, 150], [145, 155, 180], [90, 100, 120]]),
    ("navy", &[[22, 30, 75], [30, 40, 95], [28, 35, 60]]),
    ("purple", &[[115, 50, 150], [75, 35, 95], [165, 125, 195], [120, 100, 125]]),
    ("pink", &[[240, 150, 175], [225, 85, 140], [245, 200, 210]]),
];

/// Words of colours without a hue.
const HUELESS: [&str; 3] = ["white", "grey", "black"];
/// From this chroma C* on the eye sees a hue, however pale: threads of two colours mix to such.
const HUE_FROM: f64 = 10.0;
/// Below this lightness L* nothing has a plain hue.
const DARKEST: f64 = 15.0;

/// The word for an 8-bit sRGB colour, such as `rust` or `navy`.
pub fn colour_word(rgb: [u8; 3]) -> &'static str {
    let colour = Lab::from_srgb(rgb);
    let has_hue = colour.a.hypot(colour.b) >= HUE_FROM && colour.lightness >= DARKEST;
    let distance = |anchors: &[[u8; 3]]| {
        anchors.iter().map(|anchor| colour.difference(Lab::from_srgb(*anchor))).fold(f64::INFINITY, f64::min)
    };
    let fits = |word: &str| !(has_hue && HUELESS.contains(&word));
    let words = ANCHORS.iter().filter(|(word, _)| fits(word));
    words.min_by(|one, two| distance(one.1).total_cmp(&distance(two.1))).map_or("unnamed", |(word, _)| word)
}

/// Colours that differ by less than this are one thread in another light: ΔE₀₀.
const ONE_THREAD: f64 = 10.0;

/// A name for each 8-bit sRGB colour of a cloth's lines, in their order: colours of one thread (ΔE₀₀ below 10 from
/// group to group) share their name; groups that would share a word are told apart as `light` and `dark`.
pub fn names(colours: &[[u8; 3]]) -> Vec<String> {
    let threads = threads(colours);
    let words: Vec<&str> = threads.iter().map(|thread| colour_word(thread.colour)).collect();
    let mut names = vec![String::new(); colours.len()];
    for (thread, word) in threads.iter().zip(&words) {
        let lightness = |t: &Thread| Lab::from_srgb(t.colour).lightness;
        let alike: Vec<f64> =
            threads.iter().zip(&words).filter(|(_, other)| *other == word).map(|(t, _)| lightness(t)).collect();
        let own = lightness(thread);
        let is_end = |beyond: fn(f64, f64) -> bool| alike.iter().all(|&other| !beyond(other, own));
        let name = match *word {
            // Nothing is called light white or dark black.
            "white" | "cream" | "black" | "navy" => (*word).to_owned(),
            _ if alike.len() < 2 => (*word).to_owned(),
            _ if is_end(|a, b| a > b) => format!("light {word}"),
            _ if is_end(|a, b| a < b) => format!("dark {word}"),
            _ => (*word).to_owned(),
        };
        thread.members.iter().for_each(|&k| names[k].clone_from(&name));
    }
    names
}

/// Colours that are one thread.
struct Thread {
    /// The mean of their codes.
    colour: [u8; 3],
    /// Which of the colours.
    members: Vec<usize>,
}

/// Joins the two nearest groups until none are near. What is very near to a colour met before goes to it at once, so that
/// hundreds of lines cost no more than their few threads.
fn threads(colours: &[[u8; 3]]) -> Vec<Thread> {
    let mut threads: Vec<Thread> = Vec::new();
    for (k, &colour) in colours.iter().enumerate() {
        let lab = Lab::from_srgb(colour);
        let near = |t: &&mut Thread| Lab::from_srgb(t.colour).difference(lab) < ONE_THREAD / 3.0;
        match threads.iter_mut().find(near) {
            Some(thread) => thread.members.push(k),
            None => threads.push(Thread { colour, members: vec![k] }),
        }
    }
    loop {
        let lab: Vec<Lab> = threads.iter().map(|t| Lab::from_srgb(t.colour)).collect();
        let pairs = (0..threads.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
        let nearest = pairs.map(|(a, b)| (lab[a].difference(lab[b]), a, b)).min_by(|x, y| x.0.total_cmp(&y.0));
        let Some((_, a, b)) = nearest.filter(|(apart, ..)| *apart < ONE_THREAD) else { return threads };
        let later = threads.remove(a);
        let earlier = &mut threads[b];
        let (m, n) = (earlier.members.len() as f64, later.members.len() as f64);
        earlier.colour = std::array::from_fn(|c| {
            ((m * f64::from(earlier.colour[c]) + n * f64::from(later.colour[c])) / (m + n)).round() as u8
        });
        earlier.members.extend(later.members);
    }
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
            // Threads of a colour among cream ones.
            ([192, 150, 126], "brown"),
            ([140, 152, 182], "blue"),
            ([146, 164, 142], "green"),
        ] {
            assert_eq!(colour_word(rgb), word, "{rgb:?}");
        }
    }

    #[test]
    fn the_webs_own_colours_have_their_own_words() {
        // Keywords of the CSS Color Module Level 4, section 6.1, with their sRGB codes (from memory).
        for (rgb, word) in [
            ([255, 255, 255], "white"),
            ([0, 0, 0], "black"),
            ([128, 128, 128], "grey"),
            ([255, 0, 0], "red"),
            ([139, 0, 0], "red"),
            ([255, 165, 0], "orange"),
            ([255, 255, 0], "yellow"),
            ([0, 128, 0], "green"),
            ([34, 139, 34], "green"),
            ([0, 128, 128], "teal"),
            ([65, 105, 225], "blue"),
            ([0, 0, 128], "navy"),
            ([128, 0, 128], "purple"),
            ([255, 192, 203], "pink"),
            ([220, 20, 60], "red"),
            ([128, 128, 0], "green"),
        ] {
            assert_eq!(colour_word(rgb), word, "{rgb:?}");
        }
    }

    #[test]
    fn one_thread_has_one_name_and_two_have_two() {
        // The same rust thread in three lights, a light and a dark blue, and white twice.
        let colours = [[183, 85, 45], [70, 110, 190], [170, 80, 44], [165, 200, 235], [190, 92, 52], [250, 250, 250]];
        assert_eq!(names(&colours), ["rust", "dark blue", "rust", "light blue", "rust", "white"]);
        assert_eq!(names(&[[250, 250, 250], [238, 238, 238]]), ["white", "white"]);
        let greys = [[60, 60, 60], [128, 128, 128], [205, 205, 205]];
        let told = names(&greys);
        assert!(told[0] != told[1] && told[1] != told[2], "{told:?}");
        assert!(names(&[]).is_empty());
    }

    #[test]
    fn what_the_eye_calls_one_colour_has_one_name() {
        // CIEDE2000 (34 published pairs, checked above this table): pairs below the threshold share their name.
        for (one, other) in
            [([28, 40, 92], [30, 44, 98]), ([236, 228, 206], [228, 219, 196]), ([120, 15, 25], [130, 22, 34])]
        {
            assert!(Lab::from_srgb(one).difference(Lab::from_srgb(other)) < ONE_THREAD);
            let told = names(&[one, other]);
            assert_eq!(told[0], told[1]);
        }
    }

    #[test]
    fn hex_has_six_digits() {
        assert_eq!(hex([1, 171, 255]), "#01abff");
    }
}
