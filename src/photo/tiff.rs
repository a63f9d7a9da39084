//! What a TIFF's first directory says of itself, looked at before the decoder believes it: a decoder makes room for a value
//! before it reads it, and for a JPEG inside by that JPEG's own word.
//!
//! # Source
//! TIFF, Revision 6.0, Adobe, 1992, sections 2 and 8; for BigTIFF (version 43, eight-byte offsets) and for the JPEG of
//! compression 7 (Adobe's technical note 2 of 1995) from memory.

/// Bytes of one value of each type, by the type's number; 0 where there is no such type.
const VALUE_BYTES: [u64; 19] = [0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4, 0, 0, 8, 8, 8];
/// The types of whole numbers without a sign: BYTE, SHORT, LONG and, in a BigTIFF, LONG8.
const WHOLE: [u64; 4] = [1, 3, 4, 16];
/// The tag that says how the strips are compressed.
const COMPRESSION: u64 = 259;
/// The compressions that are JPEG, the old kind and the new.
const JPEG: [u64; 2] = [6, 7];

/// Whether the values of the first directory are no longer than the file.
pub fn is_complete(bytes: &[u8]) -> bool {
    // What cannot be read here is left to the decoder, which says what is wrong.
    let Some(file) = File::of(bytes) else { return true };
    file.entries().all(|entry| {
        let each = VALUE_BYTES.get(entry.kind as usize).copied().unwrap_or(0);
        each.checked_mul(entry.values).is_some_and(|all| all <= bytes.len() as u64)
    })
}

/// Whether the strips are JPEG inside, or how they are compressed is no plain number.
pub fn may_hold_jpeg(bytes: &[u8]) -> bool {
    let Some(file) = File::of(bytes) else { return false };
    let mut told = file.entries().filter(|entry| entry.tag == COMPRESSION);
    told.any(|entry| file.whole(&entry).is_none_or(|compression| JPEG.contains(&compression)))
}

/// An entry of a directory.
struct Entry {
    tag: u64,
    /// The number of its values' type.
    kind: u64,
    /// How many values it has.
    values: u64,
    /// Where the values stand, or where it stands where they do.
    at: u64,
}

/// A file with its byte order and the size of its offsets.
struct File<'a> {
    bytes: &'a [u8],
    little: bool,
    /// Bytes of an offset and of a number of values: 4, in a BigTIFF 8.
    word: usize,
}

impl<'a> File<'a> {
    fn of(bytes: &'a [u8]) -> Option<Self> {
        let little = match bytes.get(..2)? {
            b"II" => true,
            b"MM" => false,
            _ => return None,
        };
        let mut file = Self { bytes, little, word: 4 };
        file.word = match file.number(2, 2)? {
            42 => 4,
            43 => 8,
            _ => return None,
        };
        Some(file)
    }

    /// How many entries the first directory has, and where they begin.
    fn directory(&self) -> Option<(u64, u64)> {
        let (offset_at, count_bytes) = if self.word == 4 { (4, 2) } else { (8, 8) };
        let at = self.number(offset_at, self.word)?;
        Some((self.number(at, count_bytes)?, at.checked_add(count_bytes as u64)?))
    }

    /// The entries of the first directory. It may be cut short: then the first entry that is not there ends it.
    fn entries(&self) -> impl Iterator<Item = Entry> {
        let (count, first) = self.directory().unwrap_or_default();
        (0..count).map_while(move |k| self.entry(first, k))
    }

    fn entry(&self, first: u64, k: u64) -> Option<Entry> {
        let entry_bytes = 4 + 2 * self.word as u64;
        let tag_at = first.checked_add(k.checked_mul(entry_bytes)?)?;
        let [kind_at, values_at] = [tag_at.checked_add(2)?, tag_at.checked_add(4)?];
        Some(Entry {
            tag: self.number(tag_at, 2)?,
            kind: self.number(kind_at, 2)?,
            values: self.number(values_at, self.word)?,
            at: values_at.checked_add(self.word as u64)?,
        })
    }

    /// The one whole number that an entry holds; `None` where it holds anything else.
    fn whole(&self, entry: &Entry) -> Option<u64> {
        if entry.values != 1 || !WHOLE.contains(&entry.kind) {
            return None;
        }
        let size = *VALUE_BYTES.get(entry.kind as usize)? as usize;
        // What is longer than an offset stands elsewhere.
        let at = if size > self.word { self.number(entry.at, self.word)? } else { entry.at };
        self.number(at, size)
    }

    /// The number of `size` bytes at a place.
    fn number(&self, at: u64, size: usize) -> Option<u64> {
        let from = usize::try_from(at).ok()?;
        let bytes = self.bytes.get(from..from.checked_add(size)?)?;
        let add = |sum: u64, byte: &u8| sum << 8 | u64::from(*byte);
        Some(if self.little { bytes.iter().rev().fold(0, add) } else { bytes.iter().fold(0, add) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file of one entry, little-endian: tag 258, this type, so many values.
    fn little(kind: u16, values: u32) -> Vec<u8> {
        let entry = [&258u16.to_le_bytes()[..], &kind.to_le_bytes(), &values.to_le_bytes(), &[0; 4]].concat();
        [&b"II\x2a\0\x08\0\0\0\x01\0"[..], &entry, &[0; 4]].concat()
    }

    #[test]
    fn a_value_longer_than_the_file_is_noticed_in_both_orders_and_sizes() {
        assert!(is_complete(&little(3, 3)) && is_complete(&little(2, 20)));
        assert!(!is_complete(&little(3, 100)) && !is_complete(&little(2, u32::MAX)));
        let big = |values: u64| {
            let entry = [&258u16.to_be_bytes()[..], &3u16.to_be_bytes(), &values.to_be_bytes(), &[0; 8]].concat();
            [&b"MM\0\x2b\0\x08\0\0\0\0\0\0\0\0\0\x10\0\0\0\0\0\0\0\x01"[..], &entry, &[0; 8]].concat()
        };
        assert!(is_complete(&big(3)));
        assert!(!is_complete(&big(100)) && !is_complete(&big(u64::MAX)));
    }

    /// A file of one entry in either order: this tag and type, so many values, and what stands in the entry's last bytes.
    fn one(order: &[u8; 2], big: bool, [tag, kind]: [u16; 2], values: u64, held: &[u8]) -> Vec<u8> {
        let word = if big { 8 } else { 4 };
        let number = |value: u64, size: usize| match order {
            b"II" => value.to_le_bytes()[..size].to_vec(),
            _ => value.to_be_bytes()[8 - size..].to_vec(),
        };
        let head = match big {
            true => [number(43, 2), number(8, 2), number(0, 2), number(16, 8), number(1, 8)].concat(),
            false => [number(42, 2), number(8, 4), number(1, 2)].concat(),
        };
        let entry = [number(tag.into(), 2), number(kind.into(), 2), number(values, word), held.to_vec()].concat();
        [&order[..], &head, &entry, &vec![0; 2 * word - held.len()]].concat()
    }

    #[test]
    fn jpeg_inside_is_seen_in_every_type_order_and_size() {
        for (compression, is_jpeg) in [(1, false), (5, false), (6, true), (7, true), (8, false), (0xff, false)] {
            for big in [false, true] {
                for (kind, size) in [(1, 1), (3, 2), (4, 4), (16, 8)] {
                    // Eight bytes do not fit into an entry of a TIFF with offsets of four: they stand behind it.
                    let [little, large] = [u64::to_le_bytes(compression), u64::to_be_bytes(compression)];
                    let (mut ii, mut mm) = match size > 4 && !big {
                        true => ([22, 0, 0, 0].to_vec(), [0, 0, 0, 22].to_vec()),
                        false => (little[..size].to_vec(), large[8 - size..].to_vec()),
                    };
                    [ii, mm] = [(b"II", ii), (b"MM", mm)].map(|(order, held)| one(order, big, [259, kind], 1, &held));
                    if size > 4 && !big {
                        ii.splice(22.., little);
                        mm.splice(22.., large);
                    }
                    assert_eq!([may_hold_jpeg(&ii), may_hold_jpeg(&mm)], [is_jpeg; 2], "{compression} {kind} {big}");
                }
            }
        }
    }

    #[test]
    fn a_compression_that_is_no_plain_number_may_be_jpeg() {
        // ASCII, signed, real and unknown types; none or two values; eight bytes that are not there.
        for (kind, values) in [(2, 1), (6, 1), (8, 1), (11, 1), (99, 1), (3, 0), (3, 2), (16, 1)] {
            assert!(may_hold_jpeg(&one(b"II", false, [259, kind], values, &[0xff; 4])), "{kind} {values}");
        }
        assert!(!may_hold_jpeg(&one(b"II", false, [258, 3], 1, &[7, 0])));
        // The second of two entries counts too, and one that is cut short does not.
        let mut two = one(b"II", false, [259, 3], 1, &[1, 0]);
        two.truncate(22);
        two[8] = 2;
        assert!(!may_hold_jpeg(&two));
        two.extend([3, 1, 3, 0, 1, 0, 0, 0, 7, 0, 0, 0]);
        assert!(may_hold_jpeg(&two));
    }

    #[test]
    fn what_is_no_directory_is_left_to_the_decoder() {
        for bytes in [&b""[..], b"II", b"II\x2a\0\xff\xff\xff\xff", b"MM\0\x2a\0\0\0\x08\xff\xff", b"no picture at all"]
        {
            assert!(is_complete(bytes) && !may_hold_jpeg(bytes));
        }
    }
}
