//! A step's result, kept until what it rests on changes.

use std::sync::Arc;

/// A result together with the inputs it was made from.
#[derive(Clone, Debug)]
pub(crate) struct Kept<I, T> {
    held: Option<(I, Arc<T>)>,
}

impl<I, T> Default for Kept<I, T> {
    fn default() -> Self {
        Self { held: None }
    }
}

impl<I: PartialEq, T> Kept<I, T> {
    /// The kept result where the inputs are the same; else made anew. A failed
    /// attempt leaves nothing behind.
    pub(crate) fn get<E>(
        &mut self,
        inputs: I,
        make: impl FnOnce() -> Result<T, E>,
    ) -> Result<Arc<T>, E> {
        if let Some((held, value)) = &self.held
            && *held == inputs
        {
            return Ok(Arc::clone(value));
        }
        self.held = None;
        let value = Arc::new(make()?);
        self.held = Some((inputs, Arc::clone(&value)));
        Ok(value)
    }

    /// The kept result, if it was made from these inputs.
    pub(crate) fn peek(&self, inputs: &I) -> Option<Arc<T>> {
        match &self.held {
            Some((held, value)) if held == inputs => Some(Arc::clone(value)),
            _ => None,
        }
    }
}

/// The result of an earlier step as an input of a later one: the same when it
/// is the very same result, not merely an equal one.
#[derive(Debug)]
pub(crate) struct Of<T>(pub(crate) Arc<T>);

impl<T> Clone for Of<T> {
    fn clone(&self) -> Self {
        Self(Arc::clone(&self.0))
    }
}

impl<T> PartialEq for Of<T> {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn made_once_for_the_same_inputs_and_not_kept_when_it_failed() {
        let mut kept = Kept::default();
        let first = kept.get(1, || Ok::<_, ()>("a")).expect("made");
        let again = kept.get(1, || Err(())).expect("kept");
        assert!(Arc::ptr_eq(&first, &again));
        assert!(kept.get(2, || Err(())).is_err());
        assert_eq!(kept.peek(&1), None);
        assert_eq!(*kept.get(1, || Ok::<_, ()>("b")).expect("made anew"), "b");
    }
}
