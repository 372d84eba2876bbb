//! Values that a file leaves out.

pub(super) fn yes() -> bool {
    true
}

#[allow(clippy::trivially_copy_pass_by_ref)]
pub(super) fn is_yes(value: &bool) -> bool {
    *value
}

pub(super) fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}
