//! What one make found out, kept for the next: most of a work comes out the same when it is tweaked.
//!
//! Three things are kept: files by the drawing they were made from, pieces of geometry by all the numbers they depend on,
//! and what is made of parts by these parts. All are compared to the last bit, so that a make with a memo gives the same
//! bytes as one without. No more is kept than one make asks for.

use crate::drawing::Drawing;
use crate::error::Result;
use std::any::Any;
use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What is kept; the default keeps nothing. Cloning shares what is kept.
#[derive(Debug, Clone, Default)]
pub struct Memo(Option<Arc<All>>);

#[derive(Debug, Default)]
struct All {
    /// By path.
    files: Mutex<BTreeMap<String, Kept>>,
    /// By the bits of all that they depend on.
    found: Mutex<HashMap<Vec<u64>, Found>>,
    /// By a name, with what they were made of.
    made: Mutex<BTreeMap<String, Made>>,
}

#[derive(Debug)]
struct Kept {
    drawing: Drawing,
    bytes: Arc<Vec<u8>>,
    used: bool,
}

#[derive(Debug)]
struct Found {
    what: Arc<dyn Any + Send + Sync>,
    used: bool,
}

#[derive(Debug)]
struct Made {
    of: Box<dyn Any + Send + Sync>,
    what: Found,
}

fn locked<T>(what: &Mutex<T>) -> MutexGuard<'_, T> {
    what.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Memo {
    /// One that keeps.
    pub fn keeping() -> Self {
        Self(Some(Arc::default()))
    }

    /// Whether it keeps anything: else keys need not be made.
    pub(crate) fn keeps(&self) -> bool {
        self.0.is_some()
    }

    /// Forgets what the make before did not ask for, so that no more is kept than one make is.
    pub fn begin(&self) {
        if let Some(all) = &self.0 {
            locked(&all.files).retain(|_, file| std::mem::take(&mut file.used));
            let mut found = locked(&all.found);
            found.retain(|_, found| std::mem::take(&mut found.used));
            found.shrink_to_fit();
            locked(&all.made).retain(|_, made| std::mem::take(&mut made.what.used));
        }
    }

    /// What was found under this key, or else what `find` gives. The key has to hold the bits of everything that the
    /// result depends on, and first a number that no other kind of result begins with.
    pub(crate) fn found<T: Any + Send + Sync>(&self, key: Vec<u64>, find: impl FnOnce() -> T) -> Arc<T> {
        let Some(all) = &self.0 else { return Arc::new(find()) };
        let kept = locked(&all.found).get_mut(&key).and_then(|found| {
            found.used = true;
            Arc::clone(&found.what).downcast::<T>().ok()
        });
        if let Some(kept) = kept {
            return kept;
        }
        let what = Arc::new(find());
        let found = Found { what: Arc::clone(&what) as Arc<dyn Any + Send + Sync>, used: true };
        locked(&all.found).insert(key, found);
        what
    }

    /// What was made under this name, if it was made of equal things; else what `make` gives. The name has to tell what
    /// is made, too.
    ///
    /// # Errors
    /// Those of `make`.
    pub(crate) fn made<O, T>(
        &self,
        name: &str,
        of: impl FnOnce() -> O,
        make: impl FnOnce() -> Result<T>,
    ) -> Result<Arc<T>>
    where
        O: Any + PartialEq + Send + Sync,
        T: Any + Send + Sync,
    {
        let Some(all) = &self.0 else { return make().map(Arc::new) };
        let of = of();
        // Taken out while it is compared, so that other threads need not wait.
        let kept = locked(&all.made).remove(name);
        if let Some(mut kept) = kept.filter(|kept| kept.of.downcast_ref::<O>() == Some(&of))
            && let Ok(what) = Arc::clone(&kept.what.what).downcast::<T>()
        {
            kept.what.used = true;
            locked(&all.made).insert(name.to_owned(), kept);
            return Ok(what);
        }
        let what = Arc::new(make()?);
        let found = Found { what: Arc::clone(&what) as Arc<dyn Any + Send + Sync>, used: true };
        locked(&all.made).insert(name.to_owned(), Made { of: Box::new(of), what: found });
        Ok(what)
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
        let lock = || locked(&all.files);
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
    fn what_was_found_is_found_again_under_its_own_key_until_a_make_does_not_ask_for_it() {
        let count = Cell::new(0_u8);
        let find = || {
            count.set(count.get() + 1);
            count.get()
        };
        let memo = Memo::keeping();
        for (key, expected) in [(vec![1, 2], 1), (vec![1, 2], 1), (vec![1, 3], 2), (vec![1, 2], 1)] {
            assert_eq!(*memo.found(key.clone(), find), expected, "{key:?}");
        }
        memo.begin();
        assert_eq!(*memo.found(vec![1, 3], find), 2, "asked for in the make before");
        memo.begin();
        assert_eq!(*memo.found(vec![1, 2], find), 3, "not asked for, so forgotten");
        assert_eq!(*Memo::default().found(vec![1, 2], find), 4);
    }

    #[test]
    fn what_is_made_of_other_things_is_made_again() {
        let count = Cell::new(0_u8);
        let make = || {
            count.set(count.get() + 1);
            Ok(count.get())
        };
        let memo = Memo::keeping();
        for (of, expected) in [(1.0, 1), (1.0, 1), (2.0, 2), (1.0, 3)] {
            assert_eq!(memo.made("a", || of, make).ok().as_deref(), Some(&expected), "{of}");
        }
        memo.begin();
        assert_eq!(memo.made("a", || 1.0, make).ok().as_deref(), Some(&3), "asked for before");
        let fails = || -> Result<u8> { Err(crate::Error::input("no")) };
        assert!(memo.made("a", || 5.0, fails).is_err(), "an error is not kept");
        assert_eq!(memo.made("a", || 5.0, make).ok().as_deref(), Some(&4));
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
