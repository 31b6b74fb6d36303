//! Files drawn for one make, kept for the next: most drawings come out the same when a work is tweaked, and writing the
//! numbers of a drawing takes far longer than comparing it.
//!
//! A file is taken from here only if its drawing equals the kept one to the last bit, so that a make with a memo gives
//! the same bytes as one without.

use crate::drawing::Drawing;
use crate::error::Result;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Kept files by path; the default keeps nothing. Cloning shares what is kept.
#[derive(Debug, Clone, Default)]
pub struct Memo(Option<Arc<Mutex<BTreeMap<String, Kept>>>>);

#[derive(Debug)]
struct Kept {
    drawing: Drawing,
    bytes: Arc<Vec<u8>>,
    used: bool,
}

impl Memo {
    /// One that keeps.
    pub fn keeping() -> Self {
        Self(Some(Arc::default()))
    }

    /// Forgets the files that the make before did not ask for, so that no more is kept than one make is.
    pub fn begin(&self) {
        if let Some(kept) = &self.0 {
            let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
            kept.retain(|_, file| std::mem::take(&mut file.used));
        }
    }

    /// The file of a drawing: kept, if it was drawn from an equal one under this path; else as `draw` gives it.
    ///
    /// # Errors
    /// Those of `draw`.
    pub(crate) fn file(
        &self,
        path: &str,
        drawing: &Drawing,
        draw: impl FnOnce() -> Result<Vec<u8>>,
    ) -> Result<Vec<u8>> {
        let Some(all) = &self.0 else { return draw() };
        let lock = || all.lock().unwrap_or_else(PoisonError::into_inner);
        // Taken out while it is compared, so that other threads need not wait.
        let kept = lock().remove(path);
        if let Some(kept) = kept.filter(|kept| kept.drawing == *drawing) {
            let bytes = Arc::clone(&kept.bytes);
            lock().insert(path.to_owned(), Kept { used: true, ..kept });
            return Ok(bytes.as_ref().clone());
        }
        let bytes = draw()?;
        let kept = Kept { drawing: drawing.clone(), bytes: Arc::new(bytes.clone()), used: true };
        lock().insert(path.to_owned(), kept);
        Ok(bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{Layer, Path};
    use std::cell::Cell;

    fn drawing(x: f64) -> Drawing {
        let paths = vec![Path::open(Layer::Cut, vec![[0.0, 0.0], [x, 1.0]])];
        Drawing { paths, ..Drawing::default() }
    }

    #[test]
    fn only_equal_drawings_under_the_same_path_are_taken_from_the_memo() {
        let drawn = Cell::new(0_u8);
        let draw = || {
            drawn.set(drawn.get() + 1);
            Ok(vec![drawn.get()])
        };
        let memo = Memo::keeping();
        let asked =
            [("a", 1.0, 1), ("a", 1.0, 1), ("b", 1.0, 2), ("a", 1.0 + f64::EPSILON, 3), ("a", 1.0, 4)];
        for (path, x, expected) in asked {
            assert_eq!(memo.file(path, &drawing(x), draw).ok(), Some(vec![expected]), "{path} {x}");
        }
        memo.begin();
        assert_eq!(memo.file("a", &drawing(1.0), draw).ok(), Some(vec![4]), "asked for in the make before");
        memo.begin();
        assert_eq!(memo.file("b", &drawing(1.0), draw).ok(), Some(vec![5]), "not asked for, so forgotten");
        let none = Memo::default();
        assert_eq!(none.file("a", &drawing(1.0), draw).ok(), Some(vec![6]));
        assert_eq!(none.file("a", &drawing(1.0), draw).ok(), Some(vec![7]));
    }
}
