//! The folder that the user names for photographs: two files a photograph, whose names are this program's own.
//!
//! `ID.photo` is the photograph as it came, `ID.json` its name, size and what was asked. No part of a file's name comes
//! from a request.

use super::asked::Asked;
use super::store::is_id;
use crate::problem::Problem;
use crate::report::write_whole;
use serde::{Deserialize, Serialize};
use std::fs;
use std::path::{Path, PathBuf};

/// The folder.
#[derive(Clone, Debug)]
pub struct Folder(PathBuf);

/// What is known of a photograph beside its bytes.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Label {
    /// The photograph's own name.
    pub name: String,
    /// Width and height of the upright picture, pixels.
    pub size_px: [u32; 2],
    /// The how manieth it was.
    pub order: u64,
    /// What was asked.
    pub asked: Asked,
}

impl Folder {
    /// The folder at `path`, made where it is not there.
    ///
    /// # Errors
    /// [`Problem::Io`] where it cannot be made.
    pub fn at(path: &Path) -> Result<Self, Problem> {
        fs::create_dir_all(path).map_err(|e| {
            Problem::io(
                format!("the folder {} cannot be made: {e}", path.display()),
                "name another folder with --keep, one that is yours to write in",
            )
        })?;
        Ok(Self(path.to_owned()))
    }

    /// Every photograph in it, oldest first; what is none of this program's is left alone.
    ///
    /// # Errors
    /// [`Problem::Io`] where the folder cannot be listed.
    pub fn all(&self) -> Result<Vec<(String, Label)>, Problem> {
        let listed = fs::read_dir(&self.0).map_err(|e| {
            Problem::io(format!("the folder {} cannot be read: {e}", self.0.display()), "name another one with --keep")
        })?;
        let mut found: Vec<(String, Label)> = listed
            .filter_map(|entry| {
                let name = entry.ok()?.file_name().into_string().ok()?;
                let id = name.strip_suffix(".json").filter(|id| is_id(id))?;
                let label = serde_json::from_slice(&fs::read(self.label(id)).ok()?).ok()?;
                self.photo(id).is_file().then(|| (id.to_owned(), label))
            })
            .collect();
        found.sort_by(|a, b| (a.1.order, &a.0).cmp(&(b.1.order, &b.0)));
        Ok(found)
    }

    /// Puts a photograph in.
    ///
    /// # Errors
    /// [`Problem::Io`] where it cannot be written.
    pub fn put(&self, id: &str, bytes: &[u8], label: &Label) -> Result<(), Problem> {
        write_whole(&self.photo(id), bytes)?;
        self.tell(id, label)
    }

    /// Writes what is known of a photograph anew.
    ///
    /// # Errors
    /// [`Problem::Io`] where it cannot be written.
    pub fn tell(&self, id: &str, label: &Label) -> Result<(), Problem> {
        let text = serde_json::to_vec_pretty(label).unwrap_or_default();
        write_whole(&self.label(id), &text)
    }

    /// The photograph's bytes.
    ///
    /// # Errors
    /// [`Problem::Io`] where they cannot be read.
    pub fn bytes(&self, id: &str) -> Result<Vec<u8>, Problem> {
        let file = self.photo(id);
        fs::read(&file)
            .map_err(|e| Problem::io(format!("{} cannot be read: {e}", file.display()), "send the photograph again"))
    }

    /// Takes a photograph out.
    ///
    /// # Errors
    /// [`Problem::Io`] where a file of it cannot be removed.
    pub fn remove(&self, id: &str) -> Result<(), Problem> {
        // The label goes first: without it the photograph is no longer listed.
        for file in [self.label(id), self.photo(id)] {
            match fs::remove_file(&file) {
                Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                    return Err(Problem::io(
                        format!("{} cannot be removed: {e}", file.display()),
                        "remove it by hand, or allow writing to the folder",
                    ));
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn photo(&self, id: &str) -> PathBuf {
        self.0.join(format!("{id}.photo"))
    }

    fn label(&self, id: &str) -> PathBuf {
        self.0.join(format!("{id}.json"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_put_in_is_there_again_in_order_and_gone_when_removed() {
        let place = tempfile::tempdir().unwrap();
        let folder = Folder::at(&place.path().join("new")).unwrap();
        let label = |order| Label { name: "a/../b.jpg".into(), size_px: [4, 3], order, asked: Asked::default() };
        folder.put("BBBBBBBBBBBB", b"two", &label(2)).unwrap();
        folder.put("AAAAAAAAAAAA", b"ten", &label(10)).unwrap();
        fs::write(place.path().join("new/mine.json"), "{}").unwrap();
        fs::write(place.path().join("new/CCCCCCCCCCCC.json"), "broken").unwrap();
        let all = folder.all().unwrap();
        assert_eq!(all.iter().map(|(id, _)| id.as_str()).collect::<Vec<_>>(), ["BBBBBBBBBBBB", "AAAAAAAAAAAA"]);
        assert_eq!(folder.bytes("AAAAAAAAAAAA").unwrap(), b"ten");
        folder.remove("BBBBBBBBBBBB").unwrap();
        folder.remove("BBBBBBBBBBBB").unwrap();
        assert_eq!(folder.all().unwrap().len(), 1);
        assert!(place.path().join("new/mine.json").is_file());
    }
}
