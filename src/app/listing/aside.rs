//! A few words at the end of a row of the lists.

use eframe::egui::{self, Ui};

use crate::app::marks::mark_ui;
use crate::app::theme::small;
use crate::app::{App, names};
use crate::layout::EntityId;

/// A few words at the end of a row.
pub(super) fn aside_ui(ui: &mut Ui, app: &App, id: EntityId) {
    let (layout, units) = (app.doc.layout(), app.camera.units);
    let words = match id {
        EntityId::Cut(c) => {
            if let Some(standing) = app.check.latest.tally.standing(c) {
                mark_ui(ui, standing.verdict(), 6.0);
            }
            layout.cuts.get(&c).map_or_else(String::new, |c| {
                format!(
                    "{} at {}, {}",
                    app.called(c.run.into()),
                    units.mm(c.at_mm),
                    names::rails_word(c.rails).to_lowercase()
                )
            })
        }
        EntityId::Feed(f) => names::feed_place(app, f),
        EntityId::Driver(d) => layout
            .drivers
            .get(&d)
            .map_or_else(String::new, |d| names::drive_word(&d.drive).to_owned()),
        EntityId::Supply(s) => layout.supplies.get(&s).map_or_else(String::new, |s| {
            let on = if s.powered { "" } else { ", off" };
            format!("{:.1} V{on}", s.open_v.value)
        }),
        EntityId::Vehicle(v) => layout.vehicles.get(&v).map_or_else(String::new, |v| {
            format!("{}, {} axles", units.mm(v.length_mm), v.axles.len())
        }),
        EntityId::Special(w) => {
            layout.specials.get(&w).map_or_else(String::new, |w| match w.work.positions() {
                0 | 1 => w.work.word().to_owned(),
                _ => names::position_words(layout, id, w.position),
            })
        }
        EntityId::Device(x) => {
            layout.devices.get(&x).map_or_else(String::new, |x| match x.kind.positions() {
                0 | 1 => x.kind.word().to_owned(),
                _ => names::position_words(layout, id, x.position),
            })
        }
        EntityId::Bond(y) => layout.bonds.get(&y).map_or_else(String::new, |y| {
            let [from, to] = [y.from.run, y.to.run].map(|run| app.called(run.into()));
            format!("{from} to {to}")
        }),
        EntityId::Train(t) => layout.trains.get(&t).map_or_else(String::new, |t| {
            let length: f64 = t
                .vehicles
                .iter()
                .filter_map(|coupled| layout.vehicles.get(&coupled.vehicle))
                .map(|v| v.length_mm)
                .sum();
            format!("{} vehicles, {}", t.vehicles.len(), units.length(length))
        }),
        EntityId::Lineup(l) => layout
            .lineups
            .get(&l)
            .map_or_else(String::new, |l| format!("sets {} things", l.names().count())),
        EntityId::Decision(k) => layout
            .decisions
            .get(&k)
            .map_or_else(String::new, |k| crate::layout::shown(&k.said).into_owned()),
        EntityId::Picture(p) => crate::app::picture_form::aside_words(app, p),
        EntityId::Run(r) => {
            let long = app.derived.curves.get(&r).map(|c| units.length(c.length_mm()));
            let called = app.called(id);
            let called = (called != names::entity_name(layout, id)).then_some(called);
            called.into_iter().chain(long).collect::<Vec<_>>().join(", ")
        }
        EntityId::Joint(j) => layout
            .joints
            .get(&j)
            .map_or_else(String::new, |j| format!("{:.0}, {:.0}", j.x_mm, j.y_mm)),
        EntityId::Label(n) => layout.labels.get(&n).map_or_else(String::new, |n| {
            format!("{} at {}", app.called(n.run.into()), units.mm(n.at_mm))
        }),
    };
    ui.add(egui::Label::new(small(ui, words)).truncate());
}
