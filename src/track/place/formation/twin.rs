//! A crossover to a track that is laid for it.

use super::Throat;
use crate::layout::edit::{Edit, Refused};
use crate::layout::model::{EntityId, Layout, RunEnd};
use crate::track::parallel::parallel;
use crate::track::place::crossings::crossover;
use crate::track::place::draft::{Draft, Placed};
use crate::track::place::turnouts::Site;

/// A second track beside the run of a site, and a crossover to it from there onwards.
///
/// # Errors
/// When the run curves too tightly for a track beside it, or ends too soon for the crossover.
pub fn twin_crossover(layout: &Layout, site: Site, throat: &Throat) -> Result<Placed, Refused> {
    throat.sound(layout)?;
    let mut draft = Draft::of(layout);
    let forward = if site.towards == RunEnd::End { 1.0 } else { -1.0 };
    let beside = parallel(layout, &[site.run], throat.side() * throat.centres_mm * forward)?;
    let made = draft.edit(beside.clone())?;
    let second = made.iter().find_map(|id| match id {
        EntityId::Run(run) => Some(*run),
        _ => None,
    });
    let crossed = crossover(&draft.layout, site, second, throat.turn_deg, throat.frog)?;
    let laid = second.into_iter().chain(crossed.laid.iter().copied()).collect();
    Ok(Placed { edit: Edit::Batch(vec![beside, crossed.edit.clone()]), laid, ..crossed })
}
