//! Whether a WebP holds all that it says it holds, and how large its frames are: a decoder makes room for what a chunk says
//! before it reads it, and a frame may say another size than the picture.
//!
//! # Source
//! RFC 9649, WebP Image Format, 2024, sections 2.3 and 2.7.

/// Where the first chunk begins: after `RIFF`, the size and `WEBP`.
const FIRST: usize = 12;
/// Bytes of an `ANMF` chunk before the chunks in it.
const FRAME_HEAD: usize = 16;

/// Whether every chunk, also those of an animation's frames, ends inside the file.
pub fn is_complete(bytes: &[u8]) -> bool {
    chunks(bytes, FIRST, bytes.len()).all(|(kind, from, to)| {
        let frame = if kind == b"ANMF" { from + FRAME_HEAD } else { to };
        to <= bytes.len() && chunks(bytes, frame, to).all(|(_, _, to)| to <= bytes.len())
    })
}

/// Width and height of every frame of lossy pixels, as it says; those without loss are held to the picture's size.
pub fn frames(bytes: &[u8]) -> impl Iterator<Item = [u32; 2]> {
    chunks(bytes, FIRST, bytes.len())
        .flat_map(|(kind, from, to)| {
            let alone = (kind == b"VP8 ").then_some((kind, from, to));
            let frame = if kind == b"ANMF" { from + FRAME_HEAD } else { to };
            alone.into_iter().chain(chunks(bytes, frame, to))
        })
        .filter(|(kind, ..)| *kind == b"VP8 ")
        .filter_map(|(_, from, _)| {
            // RFC 6386, 9.1: three bytes of tag, three of start code, then 14 bits each.
            let said = bytes.get(from + 6..from + 10)?;
            let side = |low: u8, high: u8| u32::from(u16::from_le_bytes([low, high]) & 0x3fff);
            Some([side(said[0], said[1]), side(said[2], said[3])])
        })
}

/// The chunks from `at` on, before `end`: the name of each, and where its data begin and end as it says.
fn chunks(bytes: &[u8], mut at: usize, end: usize) -> impl Iterator<Item = (&[u8], usize, usize)> {
    std::iter::from_fn(move || {
        let head = bytes.get(at..at + 8).filter(|_| at + 8 <= end)?;
        let (from, size) = (at + 8, u32::from_le_bytes([head[4], head[5], head[6], head[7]]) as usize);
        // A chunk of an odd size has a byte more.
        at = from + size + size % 2;
        Some((&head[..4], from, from + size))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chunk(kind: &[u8; 4], says: u32, data: &[u8]) -> Vec<u8> {
        [&kind[..], &says.to_le_bytes(), data].concat()
    }

    #[test]
    fn a_frame_says_its_own_size() {
        let lossy = |w: u16, h: u16| {
            chunk(b"VP8 ", 10, &[&[0x10, 0, 0, 0x9d, 1, 0x2a][..], &w.to_le_bytes(), &h.to_le_bytes()].concat())
        };
        let moving = chunk(b"ANMF", 34, &[&[0; 16][..], &lossy(7, 0x3fff)].concat());
        let file = [&b"RIFF\x20\0\0\0WEBP"[..], &lossy(30, 20), &moving].concat();
        assert_eq!(frames(&file).collect::<Vec<_>>(), [[30, 20], [7, 0x3fff]]);
        assert_eq!(frames(&file[..24]).count(), 0);
    }

    #[test]
    fn a_chunk_that_says_more_than_is_there_is_noticed_wherever_it_stands() {
        let file = |chunks: &[Vec<u8>]| [&b"RIFF\x20\0\0\0WEBP"[..], &chunks.concat()].concat();
        let odd = chunk(b"EXIF", 3, &[1, 2, 3, 0]);
        assert!(is_complete(&file(&[odd.clone(), chunk(b"VP8 ", 2, &[1, 2])])));
        assert!(
            is_complete(&file(&[chunk(b"EXIF", 3, &[1, 2, 3])])),
            "the byte that fills up may be missing at the end"
        );
        assert!(!is_complete(&file(&[odd.clone(), chunk(b"EXIF", u32::MAX, &[1, 2])])));
        let frame = |says: u32| [&[0; 16][..], &chunk(b"EXIF", says, &[1, 2])].concat();
        assert!(is_complete(&file(&[odd.clone(), chunk(b"ANMF", 26, &frame(2))])));
        assert!(!is_complete(&file(&[odd, chunk(b"ANMF", 26, &frame(u32::MAX))])));
        assert!(is_complete(b"RIFF") && is_complete(b""), "the decoder says what is wrong with these");
    }
}
