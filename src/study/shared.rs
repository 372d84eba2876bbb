//! Values that several rules need of one view, computed once.

use std::any::{Any, TypeId};
use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

/// One value per type.
#[derive(Default)]
pub struct Shared {
    values: Mutex<HashMap<TypeId, Arc<dyn Any + Send + Sync>>>,
}

impl Shared {
    /// The value of a type, made at the first call. `make` must depend on nothing but the view that the values belong to.
    pub fn get<T: Any + Send + Sync>(&self, make: impl FnOnce() -> T) -> Arc<T> {
        let values = || self.values.lock().unwrap_or_else(PoisonError::into_inner);
        let known = values().get(&TypeId::of::<T>()).cloned();
        if let Some(known) = known.and_then(|value| value.downcast().ok()) {
            return known;
        }
        // Not locked meanwhile: `make` may ask for other values.
        let made = Arc::new(make());
        values().insert(TypeId::of::<T>(), Arc::<T>::clone(&made));
        made
    }
}

/// Values that follow from a view make no difference between two views.
impl PartialEq for Shared {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl fmt::Debug for Shared {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Shared")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_made_once_and_may_need_others() {
        let shared = Shared::default();
        let text = shared.get(|| format!("{} and more", shared.get(|| 7_u8)));
        assert_eq!(*text, "7 and more");
        assert_eq!(*shared.get(|| String::from("another")), "7 and more");
        assert_eq!(*shared.get(|| 9_u8), 7);
    }
}
