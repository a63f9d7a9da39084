//! The photographs that are kept, with what was asked about each and what was found.

use super::asked::Asked;
use super::folder::{Folder, Label};
use super::trouble::Trouble;
use crate::finding::Finding;
use crate::photo::{Limits, Photo, decode};
use crate::problem::{Problem, Refusal};
use crate::report::jpeg;
use axum::http::StatusCode;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Most photographs that are kept.
const MOST_PHOTOGRAPHS: usize = 200;
/// Most bytes of photographs that are kept in memory.
const MOST_BYTES: usize = 64 << 20;
/// Longest side of the picture that the page shows, pixels.
const SHOWN_SIDE_PX: u32 = 1600;
/// Longest name of a photograph, letters.
const LONGEST_NAME: usize = 80;
/// Bytes of chance in a photograph's id.
const ID_BYTES: usize = 9;

/// What came of a measurement.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// All that was measured and judged.
    Found(Box<Finding>),
    /// The photograph cannot be judged as it was asked.
    Refused(Refusal),
}

/// One photograph.
#[derive(Clone, Debug)]
pub struct Kept {
    /// Its name in addresses.
    pub id: String,
    /// Its own name, as a person knows it.
    pub name: String,
    /// Width and height of the upright picture, pixels.
    pub size_px: [u32; 2],
    /// What was asked last.
    pub asked: Asked,
    /// What came of it; `None`: not measured since it came in.
    pub outcome: Option<Arc<Outcome>>,
    order: u64,
    /// The bytes; `None`: they are in the folder.
    bytes: Option<Arc<[u8]>>,
    /// The upright picture in the size of the page, a JPEG, once it was asked for.
    pub shown: Option<Arc<[u8]>>,
}

/// All of them.
pub struct Store {
    kept: Mutex<Vec<Kept>>,
    folder: Option<Folder>,
    /// The picture that was decoded last: a seam that is dragged is measured again and again on the same one.
    last: Mutex<Option<(String, Arc<Photo>)>>,
    limits: Limits,
}

/// Whether a text may be an id: nothing but letters, digits, `-` and `_`.
pub fn is_id(text: &str) -> bool {
    text.len() == ID_BYTES * 4 / 3 && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    // What a panic left behind is whole: every change is one assignment.
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Store {
    /// An empty store, or what the folder holds.
    ///
    /// # Errors
    /// [`Problem::Io`] where the folder cannot be read.
    pub fn new(folder: Option<Folder>, limits: Limits) -> Result<Self, Problem> {
        let labelled = folder.as_ref().map_or(Ok(vec![]), Folder::all)?;
        let kept = labelled.into_iter().map(|(id, Label { name, size_px, order, asked })| Kept {
            id,
            name,
            size_px,
            asked,
            outcome: None,
            order,
            bytes: None,
            shown: None,
        });
        Ok(Self { kept: Mutex::new(kept.collect()), folder, last: Mutex::default(), limits })
    }

    /// Takes a photograph in: decodes it, and keeps it. Blocks.
    ///
    /// # Errors
    /// The refusal of what is no usable picture; a trouble where there is no room.
    pub fn add(&self, name: &str, bytes: Vec<u8>, asked: Asked) -> Result<Kept, Trouble> {
        self.room_for(bytes.len())?;
        let pixels = decode::decode(&bytes, &self.limits).map_err(|refusal| Trouble::from(&refusal))?;
        let mut chance = [0; ID_BYTES];
        getrandom::fill(&mut chance).map_err(|e| {
            Trouble::new(StatusCode::INTERNAL_SERVER_ERROR, format!("no random name can be made: {e}"), "try again")
        })?;
        let id = URL_SAFE_NO_PAD.encode(chance);
        let photo = Arc::new(Photo::new(shown_name(name), pixels));
        let order = held(&self.kept).last().map_or(0, |k| k.order) + 1;
        let mut kept = Kept {
            id: id.clone(),
            name: photo.name.clone(),
            size_px: [photo.width_px(), photo.height_px()],
            asked,
            outcome: None,
            order,
            bytes: None,
            shown: None,
        };
        match &self.folder {
            Some(folder) => folder.put(&id, &bytes, &kept.label()).map_err(|problem| Trouble::from(&problem))?,
            None => kept.bytes = Some(bytes.into()),
        }
        *held(&self.last) = Some((id, photo));
        held(&self.kept).push(kept.clone());
        Ok(kept)
    }

    fn room_for(&self, bytes: usize) -> Result<(), Trouble> {
        let kept = held(&self.kept);
        let in_memory: usize = kept.iter().filter_map(|k| k.bytes.as_ref()).map(|b| b.len()).sum();
        if kept.len() >= MOST_PHOTOGRAPHS || (self.folder.is_none() && in_memory + bytes > MOST_BYTES) {
            return Err(Trouble::new(
                StatusCode::INSUFFICIENT_STORAGE,
                format!("there is no room for another photograph: {} are kept", kept.len()),
                "remove some on the first page, or start the page with --keep FOLDER",
            ));
        }
        Ok(())
    }

    /// Every photograph, oldest first.
    pub fn all(&self) -> Vec<Kept> {
        held(&self.kept).clone()
    }

    /// The photograph of this id.
    ///
    /// # Errors
    /// [`Trouble::not_kept`].
    pub fn get(&self, id: &str) -> Result<Kept, Trouble> {
        held(&self.kept).iter().find(|k| k.id == id).cloned().ok_or_else(Trouble::not_kept)
    }

    /// The photograph's pixels. Blocks.
    ///
    /// # Errors
    /// A trouble where it is gone, or cannot be read any more.
    pub fn photo(&self, id: &str) -> Result<Arc<Photo>, Trouble> {
        if let Some((last, photo)) = &*held(&self.last)
            && last == id
        {
            return Ok(Arc::clone(photo));
        }
        let kept = self.get(id)?;
        let decoded = match (&kept.bytes, &self.folder) {
            (Some(bytes), _) => decode::decode(bytes, &self.limits),
            (None, Some(folder)) => {
                let bytes = folder.bytes(id).map_err(|problem| Trouble::from(&problem))?;
                decode::decode(&bytes, &self.limits)
            }
            (None, None) => return Err(Trouble::not_kept()),
        };
        let pixels = decoded.map_err(|refusal| Trouble::from(&refusal))?;
        let photo = Arc::new(Photo::new(kept.name, pixels));
        *held(&self.last) = Some((id.to_owned(), Arc::clone(&photo)));
        Ok(photo)
    }

    /// The upright picture in the size of the page, a JPEG. Blocks.
    ///
    /// # Errors
    /// As [`Store::photo`].
    pub fn shown(&self, id: &str) -> Result<Arc<[u8]>, Trouble> {
        if let Some(shown) = self.get(id)?.shown {
            return Ok(shown);
        }
        let photo = self.photo(id)?;
        let side = photo.width_px().max(photo.height_px());
        let bytes = if side <= SHOWN_SIDE_PX {
            jpeg(&photo.pixels)
        } else {
            let scaled = |px: u32| (u64::from(px) * u64::from(SHOWN_SIDE_PX) / u64::from(side)).max(1) as u32;
            jpeg(&image::imageops::thumbnail(&photo.pixels, scaled(photo.width_px()), scaled(photo.height_px())))
        };
        let shown: Arc<[u8]> = bytes.map_err(|problem| Trouble::from(&problem))?.into();
        if let Some(kept) = held(&self.kept).iter_mut().find(|k| k.id == id) {
            kept.shown = Some(Arc::clone(&shown));
        }
        Ok(shown)
    }

    /// Keeps what was asked and what came of it. A photograph that was removed meanwhile stays removed.
    ///
    /// # Errors
    /// A trouble where the folder cannot be written to.
    pub fn answered(&self, id: &str, asked: Asked, outcome: Option<Outcome>) -> Result<(), Trouble> {
        let mut kept = held(&self.kept);
        let Some(kept) = kept.iter_mut().find(|k| k.id == id) else { return Ok(()) };
        kept.asked = asked;
        kept.outcome = outcome.map(Arc::new);
        match &self.folder {
            Some(folder) => folder.tell(id, &kept.label()).map_err(|problem| Trouble::from(&problem)),
            None => Ok(()),
        }
    }

    /// Removes a photograph, from the folder too.
    ///
    /// # Errors
    /// A trouble where it is not there, or a file cannot be removed.
    pub fn remove(&self, id: &str) -> Result<(), Trouble> {
        self.get(id)?;
        if let Some(folder) = &self.folder {
            folder.remove(id).map_err(|problem| Trouble::from(&problem))?;
        }
        held(&self.kept).retain(|k| k.id != id);
        let mut last = held(&self.last);
        if last.as_ref().is_some_and(|(last, _)| last == id) {
            *last = None;
        }
        Ok(())
    }
}

impl Kept {
    /// A number that differs where what was asked differs.
    pub fn asked_print(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        format!("{:?}", self.asked).hash(&mut hasher);
        hasher.finish()
    }

    fn label(&self) -> Label {
        Label { name: self.name.clone(), size_px: self.size_px, order: self.order, asked: self.asked.clone() }
    }
}

/// A file's name as it may be shown: without its folders, in one line, not too long.
fn shown_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let plain: String = last.chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect();
    if plain.trim().is_empty() { "photograph".to_owned() } else { plain.trim().to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn png() -> Vec<u8> {
        let picture = image::RgbImage::from_fn(100, 80, |x, y| image::Rgb([x as u8, y as u8, 90]));
        crate::report::encode_picture(&picture, std::path::Path::new("a.png")).unwrap()
    }

    #[test]
    fn a_photograph_is_kept_shown_and_removed() {
        let store = Store::new(None, Limits::default()).unwrap();
        let kept = store.add("../../etc/back seam.png", png(), Asked::default()).unwrap();
        assert_eq!((kept.name.as_str(), kept.size_px), ("back seam.png", [100, 80]));
        assert!(is_id(&kept.id));
        assert_eq!(store.shown(&kept.id).unwrap()[..3], [0xff, 0xd8, 0xff]);
        assert_eq!(store.photo(&kept.id).unwrap().name, "back seam.png");
        store.remove(&kept.id).unwrap();
        assert_eq!(store.get(&kept.id).unwrap_err().status, StatusCode::NOT_FOUND);
        assert_eq!(store.photo(&kept.id).unwrap_err().status, StatusCode::NOT_FOUND);
        store.answered(&kept.id, Asked::default(), None).unwrap();
        assert!(store.all().is_empty());
    }

    #[test]
    fn the_folder_holds_them_when_the_page_is_closed() {
        let place = tempfile::tempdir().unwrap();
        let open = || Store::new(Some(Folder::at(place.path()).unwrap()), Limits::default()).unwrap();
        let store = open();
        let [first, second] = ["one.png", "two.png"].map(|name| store.add(name, png(), Asked::default()).unwrap().id);
        store.answered(&first, Asked { piece: "coat".into(), ..Asked::default() }, None).unwrap();
        let again = open();
        assert_eq!(again.all().iter().map(|k| k.id.clone()).collect::<Vec<_>>(), [first.clone(), second.clone()]);
        assert_eq!(again.get(&first).unwrap().asked.piece, "coat");
        assert_eq!(again.photo(&second).unwrap().width_px(), 100);
        again.remove(&second).unwrap();
        assert_eq!(open().all().len(), 1);
    }

    #[test]
    fn what_is_no_picture_is_not_kept_and_names_are_harmless() {
        let store = Store::new(None, Limits::default()).unwrap();
        assert_eq!(
            store.add("a.txt", b"Dear diary".to_vec(), Asked::default()).unwrap_err().status,
            StatusCode::UNSUPPORTED_MEDIA_TYPE
        );
        assert!(store.all().is_empty());
        for (name, shown) in
            [("", "photograph"), ("\u{7}\n", "photograph"), ("C:\\x\\y.jpg", "y.jpg"), ("<b>.jpg", "<b>.jpg")]
        {
            assert_eq!(shown_name(name), shown);
        }
        assert_eq!(shown_name(&"é".repeat(300)).chars().count(), LONGEST_NAME);
    }

    #[test]
    fn where_there_is_no_room_it_is_said_and_what_is_kept_stays() {
        let store = Store::new(None, Limits::default()).unwrap();
        let add = || store.add("a.png", png(), Asked::default());
        for _ in 0..MOST_PHOTOGRAPHS {
            add().unwrap();
        }
        assert_eq!(add().unwrap_err().status, StatusCode::INSUFFICIENT_STORAGE);
        assert_eq!(store.all().len(), MOST_PHOTOGRAPHS);
        store.remove(&store.all()[0].id).unwrap();
        add().unwrap();
        assert_eq!(store.room_for(MOST_BYTES).unwrap_err().status, StatusCode::INSUFFICIENT_STORAGE);
    }

    #[test]
    fn an_id_is_no_path() {
        for text in ["", "..", "../../../etc", "aaaaaaaaaaa/", "aaaaaaaaaaa.", "aaaaaaaaaaaaa", "aaaaaaaaaaaé"] {
            assert!(!is_id(text), "{text}");
        }
    }
}
