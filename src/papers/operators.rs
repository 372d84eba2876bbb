//! Operators' sheets: one per driver, with the rules that no wiring can keep for those who run trains.

use super::flow::Flow;
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, foot, pdf_file, titled};
use crate::drawing::Document;
use crate::findings::{Caution, Class, CutReport, Finding, Kind, Relation, Text};
use crate::layout::{DriverId, and};

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    Ok(vec![pdf_file("operators.pdf", &document(facts, request))?])
}

pub(super) fn document(facts: &Facts, request: &Request) -> Document {
    let title = titled("Operators' sheets", facts, request);
    let mut flow = Flow::new(request.paper, &title, &foot(facts, request));
    if facts.layout.drivers.is_empty() {
        flow.paragraph("This layout has no drivers, so it needs no operators' sheets.");
        return flow.done();
    }
    for (at, driver) in facts.layout.drivers.keys().enumerate() {
        if at > 0 {
            flow.turn();
        }
        sheet(facts, &mut flow, *driver);
    }
    flow.done()
}

/// The sheet of one driver.
fn sheet(facts: &Facts, flow: &mut Flow, driver: DriverId) {
    flow.heading(2, &format!("Cab: {}", facts.thing(driver)));
    let drives = |block: &&crate::findings::BlockReport| block.drivers.contains(&driver);
    let blocks: Vec<String> =
        facts.report.blocks.iter().filter(drives).map(|block| block.name.clone()).collect();
    flow.paragraph(&match blocks.is_empty() {
        true => "It drives no block.".to_owned(),
        false => format!("It drives {}.", and(&blocks)),
    });
    flow.cautions(&[Caution::Guard, Caution::Mains]);
    let concerns = |finding: &Finding| {
        let at_its_gap = finding.cuts().iter().any(|id| {
            let cut = facts.report.cuts.iter().find(|cut| cut.id == *id);
            cut.is_some_and(|cut| facts.drivers_at(cut).contains(&driver))
        });
        let in_its_block = facts
            .report
            .blocks
            .iter()
            .any(|block| block.drivers.contains(&driver) && finding.blocks.contains(&block.id));
        at_its_gap || in_its_block || finding.drivers.contains(&driver)
    };
    let rules = || {
        let all = facts.report.findings.iter().zip(&facts.texts);
        all.filter(|(finding, _)| finding.class == Class::Rule && concerns(finding))
    };
    gaps(facts, flow, driver);
    let plain: Vec<(&Finding, &Text)> =
        rules().filter(|(finding, _)| finding.kind != Kind::UnbalancedLoop).collect();
    flow.heading(3, "Rules");
    if plain.is_empty() {
        flow.paragraph("The check found no rule for this cab.");
    }
    for (finding, text) in plain {
        flow.paragraph(&text.says);
        // What must match stands in the table.
        if finding.kind != Kind::OpposedPolarity {
            flow.list(&text.advice, false);
        }
    }
    let all = facts.report.findings.iter().zip(&facts.texts);
    let loops: Vec<_> = all
        .filter(|(finding, _)| finding.kind == Kind::UnbalancedLoop && concerns(finding))
        .filter(|(finding, _)| finding.class != Class::Fault)
        .collect();
    if !loops.is_empty() {
        flow.heading(3, "Reversing");
    }
    for (_, text) in loops {
        flow.paragraph(&text.says);
        flow.list(&text.advice, true);
    }
    faults(facts, flow, &concerns);
}

/// The gaps to the blocks of others, with what must match.
fn gaps(facts: &Facts, flow: &mut Flow, driver: DriverId) {
    let mut table = Table::new(&["Gap", "From | to", "Set both to", "Then", "Otherwise"]);
    for cut in &facts.report.cuts {
        if facts.drivers_at(cut).contains(&driver) && !cut.card.is_empty() {
            table.row([
                Cell::Strong(facts.gap(cut.id)),
                facts.sides(cut).into(),
                match facts.pairs(cut) {
                    none if none.is_empty() => "no pair carries a train through".into(),
                    pairs => pairs.join(", or ").into(),
                },
                worst(cut, Relation::Agree).into(),
                worst(cut, Relation::Disagree).into(),
            ]);
        }
    }
    flow.heading(3, "Before a train crosses a gap");
    if table.rows.is_empty() {
        flow.paragraph("No gap of its blocks is fed on both sides.");
        return;
    }
    flow.paragraph(
        "Set the throttle of the block that the train comes from and that of the block it goes to as the line says, and \
         cross only then.",
    );
    flow.table(&table);
}

fn worst(cut: &CutReport, relation: Relation) -> String {
    let situation = match relation {
        Relation::Agree => &cut.agree,
        Relation::Disagree => &cut.disagree,
        Relation::OneDead => &cut.one_dead,
    };
    situation.as_ref().map_or("cannot be", |s| s.verdict.plain()).to_owned()
}

/// What is wrong and not cured yet, so that nobody runs into it unwarned.
fn faults(facts: &Facts, flow: &mut Flow, concerns: &dyn Fn(&Finding) -> bool) {
    let all = facts.report.findings.iter().zip(&facts.texts);
    let faults: Vec<&str> = all
        .filter(|(finding, _)| finding.class == Class::Fault && concerns(finding))
        .map(|(_, text)| text.says.as_str())
        .collect();
    if !faults.is_empty() {
        flow.heading(3, "Faults that are not cured yet");
        flow.list(&faults, false);
    }
}
