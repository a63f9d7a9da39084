//! Whether a TIFF's first directory says no more than the file holds: a decoder makes room for a value before it reads it.
//!
//! # Source
//! TIFF, Revision 6.0, Adobe, 1992, section 2; for BigTIFF (version 43, eight-byte offsets) from memory.

/// Bytes of one value of each type, by the type's number; 0 where there is no such type.
const VALUE_BYTES: [u64; 19] = [0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4, 0, 0, 8, 8, 8];

/// Whether the values of the first directory are no longer than the file.
pub fn is_complete(bytes: &[u8]) -> bool {
    // What cannot be read here is left to the decoder, which says what is wrong.
    let Some(file) = File::of(bytes) else { return true };
    let Some((count, first)) = file.directory() else { return true };
    let fits = |entry: u64| -> Option<bool> {
        let at = first.checked_add(entry.checked_mul(file.entry_bytes())?)?;
        let kind = file.number(at.checked_add(2)?, 2)?;
        let values = file.number(at.checked_add(4)?, file.word)?;
        let each = VALUE_BYTES.get(kind as usize).copied().unwrap_or(0);
        Some(each.checked_mul(values).is_some_and(|all| all <= bytes.len() as u64))
    };
    // The directory itself may be cut short: then the first entry that is not there ends it.
    (0..count).map_while(fits).all(|fits| fits)
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

    fn entry_bytes(&self) -> u64 {
        4 + 2 * self.word as u64
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

    #[test]
    fn what_is_no_directory_is_left_to_the_decoder() {
        for bytes in [&b""[..], b"II", b"II\x2a\0\xff\xff\xff\xff", b"MM\0\x2a\0\0\0\x08\xff\xff", b"no picture at all"]
        {
            assert!(is_complete(bytes));
        }
    }
}
