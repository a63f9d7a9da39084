//! The modules that are known before a symbol is read, and after.

/// A symbol's modules, row by row from its top left; `None` where it is not known what is printed.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// Modules along one side.
    pub modules: usize,
    /// Whether a module is dark.
    pub cells: Vec<Option<bool>>,
}

impl Pattern {
    /// A symbol of which everything is known.
    pub fn whole(modules: usize, dark: &[bool]) -> Self {
        Self { modules, cells: dark.iter().map(|&d| Some(d)).collect() }
    }

    /// What every symbol of this size has: the finders with their separators, the timing lines, the dark module and
    /// (from 25 to 41 modules) the one alignment pattern. `finders` tells which are to be seen: top left, top right,
    /// bottom left.
    ///
    /// # Source
    /// ISO/IEC 18004 (from memory).
    pub fn of_size(modules: usize, finders: [bool; 3]) -> Self {
        let mut cells = vec![None; modules * modules];
        for k in 8..modules.saturating_sub(8) {
            cells[6 * modules + k] = Some(k % 2 == 0);
            cells[k * modules + 6] = Some(k % 2 == 0);
        }
        if (25..=41).contains(&modules) {
            let middle = modules - 7;
            for y in middle - 2..=middle + 2 {
                for x in middle - 2..=middle + 2 {
                    let ring = x.abs_diff(middle).max(y.abs_diff(middle));
                    cells[y * modules + x] = Some(ring != 1);
                }
            }
        }
        if finders[2] && modules > 8 {
            cells[(modules - 8) * modules + 8] = Some(true);
        }
        let corners = Self::finders(modules, finders);
        let cells = corners.cells.into_iter().zip(cells).map(|(corner, cell)| corner.or(cell)).collect();
        Self { modules, cells }
    }

    /// The finders alone.
    pub fn finders(modules: usize, finders: [bool; 3]) -> Self {
        let mut cells = vec![None; modules * modules];
        let far = modules - 7;
        for (left, top) in [(0, 0), (far, 0), (0, far)].into_iter().zip(finders).filter(|f| f.1).map(|f| f.0) {
            for y in top.saturating_sub(1)..(top + 8).min(modules) {
                for x in left.saturating_sub(1)..(left + 8).min(modules) {
                    let ring = (x as isize - left as isize - 3).abs().max((y as isize - top as isize - 3).abs());
                    cells[y * modules + x] = Some(ring == 3 || ring < 2);
                }
            }
        }
        Self { modules, cells }
    }

    /// Share of the known modules that are as `dark` has them; `None` in `dark` where nothing was read.
    pub fn agreement(&self, dark: &[Option<bool>]) -> f64 {
        share(self.cells.iter().zip(dark).filter_map(|(cell, seen)| Some((*cell)? == (*seen)?)))
    }

    /// The same for the modules that tell this symbol from others of its size.
    pub fn own_agreement(&self, dark: &[Option<bool>]) -> f64 {
        let every = Self::of_size(self.modules, [true; 3]);
        let own = self.cells.iter().zip(dark).zip(&every.cells).filter(|(_, every)| every.is_none());
        share(own.filter_map(|((cell, seen), _)| Some((*cell)? == (*seen)?)))
    }
}

fn share(same: impl Iterator<Item = bool>) -> f64 {
    let (alike, all) = same.fold((0u32, 0u32), |(alike, all), same| (alike + u32::from(same), all + 1));
    f64::from(alike) / f64::from(all.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symbol_has_what_its_size_demands() {
        for (version, level) in [(1, qrcode::EcLevel::L), (2, qrcode::EcLevel::H), (6, qrcode::EcLevel::Q)] {
            let code = qrcode::QrCode::with_version("seamstep:30", qrcode::Version::Normal(version), level).unwrap();
            let dark: Vec<Option<bool>> = code.to_colors().iter().map(|c| Some(*c == qrcode::Color::Dark)).collect();
            let pattern = Pattern::of_size(code.width(), [true; 3]);
            assert_eq!(pattern.agreement(&dark), 1.0, "version {version}");
            assert!(pattern.cells.iter().flatten().count() > 190);
        }
    }
}
