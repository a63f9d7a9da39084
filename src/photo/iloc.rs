//! How many extents a HEIC's container says its items lie in, counted before the decoder makes room for them: an extent may
//! take no byte of the file.
//!
//! # Source
//! ISO/IEC 14496-12, boxes, `meta` and `iloc` (4.2, 8.11.1 and 8.11.3; from memory).

/// Whether the extents of all items together are no more than the file has bytes.
pub fn is_complete(bytes: &[u8]) -> bool {
    let of_meta = boxes(bytes).filter(|(kind, _)| kind == b"meta");
    // A full box begins with its version and flags.
    let in_meta = of_meta.flat_map(|(_, content)| boxes(content.get(4..).unwrap_or_default()));
    let counted = in_meta.filter(|(kind, _)| kind == b"iloc").map(|(_, content)| extents(content));
    counted.fold(0, u64::saturating_add) <= bytes.len() as u64
}

/// The boxes that follow each other: the kind and the content of each, which ends where `rest` does at the latest.
fn boxes(mut rest: &[u8]) -> impl Iterator<Item = ([u8; 4], &[u8])> {
    std::iter::from_fn(move || {
        let whole = rest;
        let size = number(&mut rest, 4)?;
        let kind = *rest.split_off(..4)?.first_chunk()?;
        let size = match size {
            0 => whole.len() as u64,
            1 => number(&mut rest, 8)?,
            size => size,
        };
        let head = whole.len() - rest.len();
        let end = usize::try_from(size).unwrap_or(usize::MAX).min(whole.len());
        let content = whole.get(head..end)?;
        rest = &whole[end..];
        Some((kind, content))
    })
}

/// How many extents an `iloc` box says there are; those of the items that are there, where it is cut short.
fn extents(mut rest: &[u8]) -> u64 {
    let mut sum = 0;
    let mut count = || -> Option<()> {
        let version = number(&mut rest, 4)? >> 24;
        let [offset, length, base, index] = halves(number(&mut rest, 2)?);
        let [wide, index] = [if version < 2 { 2 } else { 4 }, if version == 0 { 0 } else { index }];
        for _ in 0..number(&mut rest, wide)? {
            // The item's number, where its offsets begin to count (not in version 0), the file that holds it and its base.
            let head = wide + if version == 0 { 0 } else { 2 } + 2 + base;
            rest.split_off(..head)?;
            let here = number(&mut rest, 2)?;
            sum += here;
            rest.split_off(..(here as usize).checked_mul(index + offset + length)?)?;
        }
        Some(())
    };
    count();
    sum
}

/// The four halves of two bytes, each a number of bytes.
fn halves(two: u64) -> [usize; 4] {
    [12, 8, 4, 0].map(|shift| (two >> shift & 0xf) as usize)
}

/// The number in the next bytes, the highest first.
fn number(rest: &mut &[u8], size: usize) -> Option<u64> {
    Some(rest.split_off(..size)?.iter().fold(0, |sum, byte| sum << 8 | u64::from(*byte)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxed(kind: &[u8; 4], content: &[u8]) -> Vec<u8> {
        [&(content.len() as u32 + 8).to_be_bytes()[..], kind, content].concat()
    }

    /// An `iloc` of this version with so many items of `extents` extents, each of which takes `size` bytes of offset.
    fn iloc(version: u8, items: u32, extents: u16, size: u8) -> Vec<u8> {
        let wide = |n: u32| if version < 2 { n.to_be_bytes()[2..].to_vec() } else { n.to_be_bytes().to_vec() };
        let mut content = [&[version, 0, 0, 0, size << 4, 0][..], &wide(items)].concat();
        for item in 0..items {
            content.extend(wide(item));
            content.extend(if version == 0 { &[0, 0][..] } else { &[0, 0, 0, 0] });
            content.extend(extents.to_be_bytes());
            content.extend(vec![0; usize::from(extents) * usize::from(size)]);
        }
        boxed(b"iloc", &content)
    }

    fn file(boxes: &[u8]) -> Vec<u8> {
        let meta = boxed(b"meta", &[&[0; 4][..], &boxed(b"hdlr", &[0; 20]), boxes].concat());
        [boxed(b"ftyp", b"heic\0\0\0\0"), meta, boxed(b"mdat", &[0; 100])].concat()
    }

    #[test]
    fn extents_that_take_no_byte_are_counted_in_every_version() {
        for version in 0..=2 {
            assert_eq!(extents(&iloc(version, 3, 40, 4)[8..]), 120, "{version}");
            assert!(is_complete(&file(&iloc(version, 3, 40, 4))), "{version}");
            assert!(is_complete(&file(&iloc(version, 10, 1, 0))), "{version}");
            assert!(!is_complete(&file(&iloc(version, 2, 65_535, 0))), "{version}");
            // None of two boxes says too much, both together do.
            let half = iloc(version, 1, 150, 0);
            assert!(is_complete(&file(&half)) && !is_complete(&file(&half.repeat(2))), "{version}");
        }
    }

    #[test]
    fn boxes_of_every_size_are_walked() {
        let many = iloc(0, 2, 65_535, 0);
        let long = |kind: &[u8; 4], content: &[u8]| {
            [&[0, 0, 0, 1][..], kind, &(content.len() as u64 + 16).to_be_bytes(), content].concat()
        };
        let to_the_end = |kind: &[u8; 4], content: &[u8]| [&[0; 4][..], kind, content].concat();
        let meta = |inside: Vec<u8>| [vec![0; 4], inside].concat();
        assert!(!is_complete(&long(b"meta", &meta(long(b"iloc", &many[8..])))));
        assert!(!is_complete(&to_the_end(b"meta", &meta(to_the_end(b"iloc", &many[8..])))));
        // Each of several `meta` counts, and one that says it is longer than the file.
        let [none, mut last] = [boxed(b"meta", &[0; 4]), boxed(b"meta", &meta(many.clone()))];
        assert!(!is_complete(&[none.clone(), last.clone()].concat()));
        last[..4].copy_from_slice(&u32::MAX.to_be_bytes());
        assert!(!is_complete(&[none, last].concat()));
        // Elsewhere it is no box of the items' places.
        assert!(is_complete(&boxed(b"mdat", &meta(many))));
    }

    #[test]
    fn cut_short_anywhere_it_is_walked_to_its_end() {
        let whole = file(&iloc(1, 2, 65_535, 0));
        for end in 0..whole.len() {
            let counted = !is_complete(&whole[..end]);
            assert!(!counted || end > 60, "{end}");
        }
        for k in 0..whole.len() {
            let mut changed = whole.clone();
            changed[k] = 0xff;
            is_complete(&changed);
        }
        assert!(!is_complete(&whole));
    }
}
