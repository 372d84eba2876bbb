//! Checking a layout: every rule asked, what they say merged, and the report of each cut.

use std::sync::Arc;

use super::merge::{merge, merge_apart};
use super::shared::crossing;
use super::{
    BlockReport, CardCell, CutReport, Finding, Kind, RailsWord, Report, Scope, SupplyReport,
};
use crate::layout::{CutId, Layout, Rails};
use crate::study::cut::{self, CutResult, Evaluated, Worst};
use crate::study::{
    Class, Known, Memo, Progress, Relation, SelectorId, Situation, Study, Verdict, View, situation,
};

/// Checks layouts. Keeps the last study, so that a re-check derives and solves only what an edit has touched.
#[derive(Default)]
pub struct Checker {
    memo: Memo,
    last: Option<Study>,
}

/// Checks a layout once.
pub fn check(layout: &Layout) -> Report {
    Checker::default().check(layout)
}

/// Checks a layout once and keeps findings with one cause apart, so that the findings of a place depend on that place
/// alone.
pub fn check_apart(layout: &Layout) -> Report {
    report(&Study::of(layout, &Memo::default()), Grouping::Apart)
}

/// The report of a layout that is studied already.
pub fn report_of(study: &Study) -> Report {
    report(study, Grouping::ByCause)
}

/// Findings of a layout that is studied already, those with one cause kept apart.
pub fn apart_of(study: &Study) -> Vec<Finding> {
    merged(&study.views(), Grouping::Apart)
}

/// Whether findings with one cause become one finding.
#[derive(Clone, Copy, PartialEq)]
enum Grouping {
    ByCause,
    Apart,
}

impl Checker {
    /// A checker whose solving is counted.
    pub fn watched(progress: &Arc<Progress>) -> Checker {
        Checker { memo: Memo::watched(progress), last: None }
    }

    /// What it remembers; other work that shares it is counted with it, and stopped with it.
    pub fn memo(&self) -> &Memo {
        &self.memo
    }

    /// Studies a layout.
    pub fn study(&mut self, layout: &Layout) -> Study {
        let study = match self.last.take() {
            Some(last) => last.revised(layout.clone()),
            None => Study::of(layout, &self.memo),
        };
        self.last = Some(study.clone());
        study
    }

    /// Checks a layout.
    pub fn check(&mut self, layout: &Layout) -> Report {
        report_of(&self.study(layout))
    }
}

fn report(study: &Study, grouping: Grouping) -> Report {
    let views = study.views();
    let findings = merged(&views, grouping);
    let faults = findings.iter().filter(|f| f.class == Class::Fault);
    Report {
        verdict: faults.map(|f| f.verdict).max().unwrap_or_default(),
        blocks: blocks(&study.now()),
        supplies: supplies(&study.now()),
        cuts: study
            .now()
            .known
            .keys()
            .filter_map(|&id| {
                let report = cut_report(&views, id, study.held().get(&id))?;
                let shorted_positions = study.shorted().get(&id).cloned().unwrap_or_default();
                Some(CutReport { shorted_positions, ..report })
            })
            .collect(),
        findings,
    }
}

/// What all rules say, worst first.
fn merged(views: &[View], grouping: Grouping) -> Vec<Finding> {
    let mut found: Vec<Finding> = Vec::new();
    for (at, view) in views.iter().enumerate() {
        for kind in Kind::ALL {
            let asked = match kind.scope() {
                Scope::Now | Scope::Layout => at == 0,
                Scope::EveryPosition => true,
            };
            if asked {
                found.extend(kind.find(view));
            }
        }
    }
    crossing::transfer_ends(views, &mut found);
    match grouping {
        Grouping::ByCause => merge(found),
        Grouping::Apart => merge_apart(found),
    }
}

fn blocks(view: &View) -> Vec<BlockReport> {
    view.plan
        .blocks
        .iter()
        .enumerate()
        .map(|(at, block)| BlockReport {
            id: block.id,
            name: view.plan.block_name(view.layout, at),
            drivers: block.drivers.clone(),
            length_mm: block.length_mm,
        })
        .collect()
}

fn supplies(view: &View) -> Vec<SupplyReport> {
    let loads = view.loads();
    loads.into_iter().map(|(id, load)| SupplyReport { id, load }).collect()
}

/// `views` are those of every set of positions, that of now first.
fn cut_report(views: &[View], id: CutId, held: Option<&Vec<SelectorId>>) -> Option<CutReport> {
    let view = views.first()?;
    let cut = view.layout.cuts.get(&id)?;
    let known = view.known.get(&id)?;
    let result = &known.result;
    let trains = view.trains.get(&id);
    // The worst of what vehicles and what trains do.
    let worst = |of: &dyn Fn(&CutResult) -> Worst, views: &[View]| {
        let mut worst: Option<(&View, &Known, Evaluated)> = None;
        for view in views {
            for known in [view.known.get(&id), view.trains.get(&id)].into_iter().flatten() {
                let Some(new) = of(&known.result).worst else { continue };
                if worst.as_ref().is_none_or(|(_, _, old)| cut::is_worse(&new, old)) {
                    worst = Some((view, known, new));
                }
            }
        }
        worst.map(|(view, known, evaluated)| view.situation(known, &evaluated))
    };
    let told = |of: &dyn Fn(&CutResult) -> Worst| worst(of, &views[..1]);
    let in_any = |of: &dyn Fn(&CutResult) -> Worst| worst(of, views);
    let passes = |of: &dyn Fn(&CutResult) -> &Vec<cut::Pass>| {
        let both = std::iter::once(known).chain(trains);
        both.flat_map(|k| situation::passes(k, of(&k.result))).collect()
    };
    Some(CutReport {
        id,
        name: view.cut_name(id),
        blocks: [known.around.at.block_before, known.around.at.block_after]
            .map(|at| view.plan.blocks[at].id),
        rails: match cut.rails {
            Rails::Both => RailsWord::Both,
            Rails::Left => RailsWord::Left,
            Rails::Right => RailsWord::Right,
        },
        run: cut.run,
        at_mm: cut.at_mm,
        agree: in_any(&|r| r.worst(Relation::Agree))
            .map(|s| with_inrush(s, result, Relation::Agree)),
        disagree: in_any(&|r| r.worst(Relation::Disagree)),
        one_dead: in_any(&|r| r.worst(Relation::OneDead))
            .map(|s| with_inrush(s, result, Relation::OneDead)),
        now: told(&|r| r.now.clone())?,
        passes_now: passes(&|r| &r.passes_now),
        passes_agree: passes(&|r| &r.passes_agree),
        card: result
            .cells
            .iter()
            .filter_map(|cell| {
                Some(CardCell {
                    a: cell.a,
                    b: cell.b,
                    relation: cell.relation,
                    situation: told(&|r| {
                        let same = |c: &&cut::Cell| (c.a, c.b) == (cell.a, cell.b);
                        r.cells.iter().find(same).map(cut::Cell::anything).unwrap_or_default()
                    })?,
                })
            })
            .collect(),
        ways_left_out: std::iter::once(known).chain(trains).map(Known::left_out).sum(),
        held_selectors: held.cloned().unwrap_or_default(),
        shorted_positions: Vec::new(),
    })
}

/// The worst situation of a relation, as a short where a trip acts on the inrush of the moment of joining: the steady
/// figures do not show it.
fn with_inrush(situation: Situation, result: &CutResult, relation: Relation) -> Situation {
    let trips = |i: &cut::InrushAt| i.relation == relation && !i.trips.is_empty();
    if situation.verdict >= Verdict::Short || !result.inrush.iter().any(trips) {
        return situation;
    }
    Situation { verdict: Verdict::Short, margin: None, ..situation }
}
