//! Places where trains are held, as stretches that a switch makes dead; and common rails that cannot be.

use super::section::{Chains, Terminus, hold_mm};
use super::wish::{At, Hand, Hold, NoPlan, Stretch, Wishes};
use crate::drive::{self, Output};
use crate::layout::{DeviceKind, DriverId, Layout, driver_now, shown};
use crate::rails::{Piece, Plan};

/// Wishes in which nothing is cut where a train is held, and each hold that is `switched` is a stretch of its own.
pub(super) fn with_holds(
    layout: &Layout,
    wishes: &Wishes,
    drawn: &Plan,
    switched: &[bool],
) -> Result<Wishes, NoPlan> {
    let chains = Chains::of(drawn);
    let mut out = wishes.clone();
    for (n, hold) in wishes.hold.iter().enumerate() {
        let (run, at_mm) = (hold.at.run, hold.at.at_mm);
        let need = hold_mm(layout, wishes, hold);
        let Some((chain, mm)) = chains.along(run, at_mm) else {
            return Err(NoPlan(format!(
                "A train is to be held {at_mm} mm along run {run}, and no track is there. Name a place on the track."
            )));
        };
        let whole = &chains.chains[chain];
        let (from, to) = (mm - need / 2.0, mm + need / 2.0);
        let room = |end: Terminus, beyond: f64| match end {
            // At a buffer a train stops by itself.
            Terminus::Buffer => beyond <= super::section::STOPPING_MM,
            Terminus::Work(..) | Terminus::Cut(_) => beyond <= 0.0,
        };
        if !room(whole.ends[0], -from) || !room(whole.ends[1], to - whole.length_mm) {
            return Err(NoPlan(format!(
                "The train that is to be held {at_mm:.0} mm along run {run} has no room: it takes {need:.0} mm of plain track \
                 around that place, and points, a gap or the end of the track are nearer. Hold it elsewhere, or name a \
                 shorter train."
            )));
        }
        let parts = chains.parts(chain, from, to);
        out.never.extend(parts.iter().map(|part| (part.run, part.from_mm, part.to_mm)));
        if switched.get(n).copied().unwrap_or(true) {
            let number = if wishes.hold.len() > 1 { format!(" {}", n + 1) } else { String::new() };
            let name = format!("hold{number}");
            out.apart.push(Stretch { hold: Some(n), ..Stretch::new(&name, vec![hold.at]) });
        }
    }
    Ok(out)
}

/// Holds that have to be made dead and cannot be: with every selector at off, a driver still reaches their track.
pub(super) fn live(layout: &Layout, wishes: &Wishes) -> Vec<usize> {
    if wishes.hold.is_empty() {
        return Vec::new();
    }
    let mut off = layout.clone();
    for device in off.devices.values_mut() {
        if let DeviceKind::CabSelector { cabs } = &device.kind
            && let Some(position) = cabs.iter().position(Option::is_none)
        {
            device.position = position as u32;
        }
    }
    let plan = Plan::derive(&off);
    let is_fed = |hold: &Hold| {
        let At { run, at_mm } = hold.at;
        let here = |p: &&Piece| p.run == run && p.from_mm <= at_mm && at_mm <= p.to_mm;
        let nets = plan.pieces.iter().filter(here).flat_map(|piece| piece.nets);
        nets.into_iter().any(|net| !plan.nets[net].legs.is_empty())
    };
    let holds = wishes.hold.iter().enumerate();
    holds.filter(|(_, hold)| !hold.may_go_dark && is_fed(hold)).map(|(n, _)| n).collect()
}

/// A hold in words: "the train held 400 mm along run r11".
pub(super) fn hold_words(hold: &Hold) -> String {
    format!("the train held {:.0} mm along run {}", hold.at.at_mm, hold.at.run)
}

/// Refuses a common rail of full bridges on one supply: they fight with no train on the track.
pub(super) fn common_is_sound(layout: &Layout, wishes: &Wishes) -> Result<(), NoPlan> {
    if wishes.rails == Hand::Both {
        return Ok(());
    }
    let mut used: Vec<DriverId> =
        layout.feeds.values().filter_map(|feed| driver_now(layout, feed.driver)).collect();
    used.extend(wishes.apart.iter().filter_map(|stretch| stretch.driver));
    used.sort_unstable();
    used.dedup();
    let bridges: Vec<_> = used
        .iter()
        .filter_map(|id| layout.drivers.get(id))
        .filter(|driver| drive::of(&driver.drive).output() != Output::HalfBridge)
        .collect();
    for (n, one) in bridges.iter().enumerate() {
        if let Some(other) = bridges[n + 1..].iter().find(|other| other.supply == one.supply) {
            let name = |driver: &crate::layout::Driver| match driver.name.is_empty() {
                true => driver.id.to_string(),
                false => shown(&driver.name).into_owned(),
            };
            return Err(NoPlan(format!(
                "The plan cannot be made: {} and {} are full bridges on one supply. With a common rail they fight with no \
                 train on the track. Give each a supply of its own, isolated from the other, or use half-bridges on a split \
                 supply, or cut both rails.",
                name(one),
                name(other)
            )));
        }
    }
    Ok(())
}
