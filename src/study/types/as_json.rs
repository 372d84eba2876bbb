//! How single fields of the reports are written.

use serde::Serializer;

use crate::rails::SelectorId;

/// Whether a count is nothing to write about.
#[allow(clippy::trivially_copy_pass_by_ref)]
pub(crate) fn is_zero(number: &usize) -> bool {
    *number == 0
}

pub(crate) fn as_text<S: Serializer>(id: &SelectorId, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(id)
}

pub(crate) fn all_as_text<S: Serializer>(
    ids: &[SelectorId],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(ids.iter().map(ToString::to_string))
}
