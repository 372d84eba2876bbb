//! Particulars of feeds and their wires.

use eframe::egui::Ui;

use super::put;
use crate::app::form::{AMPERE, FROM_ZERO, Form, METRE, MM, MM2, OHM};
use crate::app::theme::SPACE;
use crate::app::{App, names};
use crate::layout::edit::{Edit, Entity};
use crate::layout::wire::may_carry_a;
use crate::layout::{FeedId, Wire, WireSize};

pub(super) fn feed_ui(ui: &mut Ui, app: &mut App, id: FeedId) {
    let Some(mut feed) = app.doc.layout().feeds.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Feed particulars");
    form.choice("Driver", &mut feed.driver, &names::origin_choices(app.doc.layout()));
    form.choice("P to", &mut feed.p, &names::rail_choices());
    form.choice("M to", &mut feed.m, &names::rail_choices());
    form.choice("Run", &mut feed.run, &app.run_choices());
    form.number("At", &mut feed.at_mm, MM, FROM_ZERO);
    wire_form(&mut form, &mut feed.wire);
    form.optional_quantity("Resistance", &mut feed.ohm, 0.1, OHM, FROM_ZERO);
    form.hint("Resistance of one leg; it overrides the wire's.");
    let changed = form.changed;
    let (driver, run) = (feed.driver, feed.run);
    put(app, changed, "change a feed", Entity::Feed(feed));
    ui.add_space(SPACE);
    ui.horizontal(|ui| {
        if ui.button("Swap P and M").on_hover_text("Exchanges the two rails").clicked() {
            app.edit("swap a feed", Edit::Swap { feed: id });
        }
        if ui.button("Show its driver").clicked() {
            app.select(driver.into());
        }
        if ui.button(app.called(run.into())).clicked() {
            app.select(run.into());
        }
    });
}

#[derive(Clone, Copy, PartialEq)]
enum WireWord {
    None,
    Awg,
    Mm2,
}

fn wire_form(form: &mut Form<'_>, wire: &mut Option<Wire>) {
    let mut word = match wire.map(|w| w.size) {
        None => WireWord::None,
        Some(WireSize::Awg(_)) => WireWord::Awg,
        Some(WireSize::Mm2(_)) => WireWord::Mm2,
    };
    let was = word;
    let choices = [
        (WireWord::None, "Not stated".to_owned()),
        (WireWord::Awg, "By AWG number".to_owned()),
        (WireWord::Mm2, "By cross-section".to_owned()),
    ];
    form.choice("Wire", &mut word, &choices);
    if word != was {
        let (length_m, rating_a) = wire.map_or((1.0, None), |w| (w.length_m, w.rating_a));
        *wire = match word {
            WireWord::None => None,
            WireWord::Awg => Some(Wire { size: WireSize::Awg(20), length_m, rating_a }),
            WireWord::Mm2 => Some(Wire { size: WireSize::Mm2(0.5), length_m, rating_a }),
        };
    }
    if let Some(wire) = wire {
        match &mut wire.size {
            WireSize::Awg(n) => {
                form.whole("AWG", n, 0..=40);
            }
            WireSize::Mm2(area) => {
                form.number("Cross-section", area, MM2, 0.001..=1e3);
            }
        }
        form.number("Length of a leg", &mut wire.length_m, METRE, FROM_ZERO);
        let usual = may_carry_a(wire.size);
        form.optional_quantity("May carry", &mut wire.rating_a, usual, AMPERE, FROM_ZERO);
    }
}
