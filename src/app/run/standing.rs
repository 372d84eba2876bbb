//! How a train stands: what it joins, and what comes of it.

use std::collections::BTreeSet;

use eframe::egui::Ui;

use crate::app::glossary::term;
use crate::app::marks::mark_ui;
use crate::app::theme::strong;
use crate::app::{App, names};
use crate::rails::NetId;
use crate::report::{standing_words, urge_words};
use crate::study::run::Standing;

/// What it joins, and what comes of it.
pub(super) fn standing_ui(ui: &mut Ui, app: &App, here: &Standing) {
    let layout = app.doc.layout();
    ui.horizontal(|ui| {
        mark_ui(ui, here.verdict, 7.0);
        ui.label(strong(standing_words(here)));
    });
    ui.label(urge_words(here.urge));
    for cut in &here.cuts {
        ui.horizontal_wrapped(|ui| {
            ui.label(format!("Over {}", names::entity_name(layout, (*cut).into())));
            term(ui, "straddle");
        });
    }
    for group in &here.groups {
        let rail = |side: usize| {
            let nets = &group.nets[side];
            let names: BTreeSet<String> = nets.iter().map(|net| net_words(app, *net)).collect();
            let names: Vec<String> = names.into_iter().collect();
            match names.len() {
                0 => "nothing".to_owned(),
                one if one < nets.len() => format!("both rails of {}", names.join(" with ")),
                _ => names.join(" with "),
            }
        };
        let whose = group
            .vehicles
            .first()
            .map_or_else(String::new, |id| names::entity_name(layout, (*id).into()));
        let live = match group.live {
            Some(true) => ", live",
            Some(false) => ", dead",
            None => "",
        };
        let joins = if group.joins() { "joins" } else { "stands on" };
        ui.label(format!(
            "{whose} {joins}: on the left {}, on the right {}{live}",
            rail(0),
            rail(1)
        ));
    }
}

/// What a rail belongs to: its block, or else its name in the plan.
fn net_words(app: &App, net: NetId) -> String {
    let plan = &app.derived.plan;
    let block = plan.blocks.iter().position(|block| {
        block.nets.iter().any(|&of| plan.nets.get(of).is_some_and(|of| of.id == net))
    });
    match block {
        Some(block) => plan.block_name(app.doc.layout(), block),
        None => format!("rail {net}"),
    }
}
