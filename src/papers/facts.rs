//! What the sheets say of a layout: its report, and the names of its things.

use std::cell::OnceCell;

use super::Request;
use crate::cure::{Surgery, Together};
use crate::findings::{
    BlockId, Class, CutReport, Finding, Relation, Report, Text, Verdict, report_of, words,
};
use crate::job::Names;
use crate::layout::{
    CutId, DriverId, EntityId, JointId, Layout, RunEnd, RunId, TrackEnd, Work, geometry, roads,
    shown,
};
use crate::report::{Standing, Tally, Units};
use crate::study::{Study, View};

/// A layout with its check, as the sheets ask for it.
pub struct Facts<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its study.
    pub study: &'a Study,
    /// Everything with the selectors as they stand now.
    pub view: View<'a>,
    /// Its report.
    pub report: Report,
    /// Findings by cut.
    pub tally: Tally,
    /// The findings in words, in the order of the report.
    pub texts: Vec<Text>,
    cured: OnceCell<Together>,
}

impl<'a> Facts<'a> {
    /// Collects what a study found.
    pub fn of(study: &'a Study) -> Facts<'a> {
        let report = report_of(study);
        let layout = study.layout();
        let in_words = |finding| words(finding, &report, layout, Units::Metric);
        let texts = report.findings.iter().map(in_words).collect();
        let (view, tally) = (study.now(), Tally::of(&report));
        Facts { layout, study, view, report, tally, texts, cured: OnceCell::new() }
    }

    /// The cheapest proved set of cures. It is searched when it is first asked for.
    pub fn cured(&self) -> &Together {
        self.cured.get_or_init(|| {
            let surgery = Surgery::of(self.study);
            surgery.together(&surgery.faults())
        })
    }

    /// The name of the layout, or of its file, as it can be shown.
    pub fn title(&self, request: &Request) -> String {
        match (self.layout.name.trim(), request.file.as_str()) {
            ("", "") => "a layout without a name".to_owned(),
            ("", file) => shown(file).into_owned(),
            (name, _) => shown(name).into_owned(),
        }
    }

    /// A thing by its name, or by its kind and identity.
    pub fn thing(&self, id: impl Into<EntityId>) -> String {
        Names { layout: self.layout, plan: &self.view.plan }.thing(id.into())
    }

    /// The name of a block.
    pub fn block(&self, id: BlockId) -> String {
        let block = self.report.blocks.iter().find(|block| block.id == id);
        block.map_or_else(|| id.to_string(), |block| block.name.clone())
    }

    /// "c17", or "c17 Mill gap": the number of a gap, and its name if it has one.
    pub fn gap(&self, id: CutId) -> String {
        match self.layout.cuts.get(&id).map(|cut| cut.name.trim()) {
            Some(name) if !name.is_empty() && name != id.to_string() => format!("{id} {name}"),
            _ => id.to_string(),
        }
    }

    /// "West | East".
    pub fn sides(&self, cut: &CutReport) -> String {
        format!("{} | {}", self.block(cut.blocks[0]), self.block(cut.blocks[1]))
    }

    /// The findings that name a cut, with their words, worst first.
    pub fn findings_at(&self, cut: CutId) -> impl Iterator<Item = (&Finding, &Text)> {
        let all = self.report.findings.iter().zip(&self.texts);
        all.filter(move |(finding, _)| finding.cuts().contains(&cut))
    }

    /// What the check says of a gap in a few words: its verdict, and the names of what is wrong there.
    pub fn state(&self, cut: CutId) -> String {
        let mut verdict = match self.tally.standing(cut) {
            None => return "not checked".to_owned(),
            Some(Standing::NotFed) => "not fed on both sides".to_owned(),
            Some(Standing::Judged(verdict)) => verdict.plain().to_owned(),
        };
        let mut why: Vec<&str> = Vec::new();
        for (finding, _) in self.findings_at(cut).filter(|(f, _)| f.class == Class::Fault) {
            if !why.contains(&finding.kind.title()) {
                why.push(finding.kind.title());
            }
        }
        if why.is_empty() && verdict != Verdict::Clear.plain() {
            verdict.push_str(" as set now");
        }
        let rules = self.findings_at(cut).any(|(finding, _)| finding.class == Class::Rule);
        let mut out = verdict;
        if !why.is_empty() {
            out.push_str(&format!(": {}", why.join("; ")));
        }
        if rules {
            out.push_str(if why.is_empty() {
                "; operating rule"
            } else {
                "; and an operating rule"
            });
        }
        out
    }

    /// A joint or special work at an end of a run, in words: "the points of turnout w3", "joint j5".
    pub fn end_words(&self, end: TrackEnd) -> String {
        let special = self.layout.specials.values().find(|special| {
            special.work.ends().contains(&end) || special.work.bridge() == Some(end.run)
        });
        let joint = roads::joint_of(self.layout, end);
        match special {
            Some(special) => {
                let name = self.thing(special.id);
                match special.work {
                    Work::Turnout { .. } => format!("the points of {name}"),
                    Work::Diamond { .. } | Work::Slip { .. } => format!("the middle of {name}"),
                    Work::Turntable { .. } | Work::Traverser { .. } => {
                        format!("the edge of {name}")
                    }
                    Work::Buffer { .. } => name,
                }
            }
            None => match joint {
                Some(joint) if self.ends_here(joint) => format!("the end of track at {joint}"),
                Some(joint) => format!("joint {joint}"),
                None => format!("the end of run {}", end.run),
            },
        }
    }

    fn ends_here(&self, joint: JointId) -> bool {
        roads::ends_at(self.layout, joint).len() == 1
    }

    /// A place by the nearer end of its run: "412 mm from joint j5".
    pub fn place(&self, run: RunId, at_mm: f64) -> String {
        let Some(drawn) = self.layout.runs.get(&run) else { return run.to_string() };
        let long = geometry::length_mm(self.layout, drawn);
        let (end, far) = match at_mm * 2.0 <= long {
            true => (RunEnd::Start, at_mm),
            false => (RunEnd::End, long - at_mm),
        };
        let words = self.end_words(TrackEnd { run, end });
        match geometry::end_at(long, at_mm) {
            Some(_) => format!("at {words}"),
            None => format!("{} from {words}", mm(far)),
        }
    }

    /// How one looks along a run to have its left rail on the left: "from joint j1 towards joint j2".
    pub fn along(&self, run: RunId) -> String {
        let [from, to] =
            [RunEnd::Start, RunEnd::End].map(|end| self.end_words(TrackEnd { run, end }));
        if from != to {
            return format!("from {from} to {to}");
        }
        let joints = self.layout.runs.get(&run).map(|run| (run.from, run.to));
        joints.map_or(from, |(from, to)| format!("from joint {from} to joint {to}"))
    }

    /// Pairs of settings that carry a train over a cut: "forward with forward"; with what an auto-reverser does there.
    pub fn pairs(&self, cut: &CutReport) -> Vec<String> {
        let both_drive = cut.card.iter().filter(|cell| cell.a.drives() && cell.b.drives());
        both_drive
            .filter(|cell| cell.relation == Relation::Agree || cell.situation.resolved)
            .map(|cell| {
                let turns = if cell.situation.resolved { " (the auto-reverser turns)" } else { "" };
                format!("{} with {}{turns}", cell.a.word(), cell.b.word())
            })
            .collect()
    }

    /// The drivers whose nets a cut lies between, by its report.
    pub fn drivers_at(&self, cut: &CutReport) -> Vec<DriverId> {
        let mut drivers: Vec<DriverId> = Vec::new();
        for id in cut.blocks {
            let block = self.report.blocks.iter().find(|block| block.id == id);
            for driver in block.into_iter().flat_map(|block| &block.drivers) {
                if !drivers.contains(driver) {
                    drivers.push(*driver);
                }
            }
        }
        drivers
    }
}

/// A length to measure with a rule, to half a mm.
pub fn mm(value: f64) -> String {
    let half = (value * 2.0).round() / 2.0;
    if half.fract() == 0.0 { format!("{half:.0} mm") } else { format!("{half:.1} mm") }
}
