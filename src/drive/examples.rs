//! Drives of every kind and idle state, from what the kinds say of themselves.

use super::fields::Value;
use super::{fields, new_drives, of};
use crate::layout::{Drive, Idle};

/// The idle state of a drive, if its kind has one.
pub fn idle_of(drive: &mut Drive) -> Option<&mut Idle> {
    fields(drive).into_iter().find_map(|field| match field.value {
        Value::Idle(idle) => Some(idle),
        Value::Clock(_)
        | Value::Ohm(_)
        | Value::Tick(_)
        | Value::Name(_)
        | Value::Number(..)
        | Value::Optional { .. } => None,
    })
}

/// New drives of every kind, one for each idle state of those that have any.
pub fn examples() -> Vec<Drive> {
    let mut all = Vec::new();
    for mut drive in new_drives() {
        for choice in of(&drive.clone()).idle_choices() {
            if let Some(idle) = idle_of(&mut drive) {
                *idle = choice;
            }
            all.push(drive.clone());
        }
        if idle_of(&mut drive).is_none() {
            all.push(drive);
        }
    }
    all
}
