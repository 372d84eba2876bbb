//! Panics of the engine as errors.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook};
use std::sync::{Mutex, PoisonError};

use gapwright::layout::shown;

/// Source place of the last panic, such as ` (src/study/gather.rs:120)`; empty without [`keep_quiet`].
static PLACE: Mutex<String> = Mutex::new(String::new());

/// Keeps panics from writing to standard error by themselves. Their place is kept for [`caught`].
pub fn keep_quiet() {
    set_hook(Box::new(|panic| {
        let place = panic.location().map(|at| format!(" ({}:{})", at.file(), at.line()));
        *PLACE.lock().unwrap_or_else(PoisonError::into_inner) = place.unwrap_or_default();
    }));
}

/// The result of some work, or the message of the panic that ended it, on one line and with its place.
pub fn caught<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    // Nothing that the work has changed is used after a panic.
    catch_unwind(AssertUnwindSafe(work)).map_err(|panic| {
        let place = std::mem::take(&mut *PLACE.lock().unwrap_or_else(PoisonError::into_inner));
        format!("{}{place}", shown(message(&*panic)))
    })
}

fn message(panic: &(dyn Any + Send)) -> &str {
    if let Some(message) = panic.downcast_ref::<&str>() {
        message
    } else if let Some(message) = panic.downcast_ref::<String>() {
        message
    } else {
        "it gives no reason"
    }
}
