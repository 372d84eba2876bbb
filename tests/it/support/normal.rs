//! A report in a form that can be compared with another: one line per fact, under a name that does not depend on how the
//! layout is drawn and numbered.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use gapwright::findings::{
    CutReport, Finding, Kind, Place, Relation, Report, SetWord, Situation, check, check_apart,
};
use gapwright::layout::{CutId, Layout};
use gapwright::report;
use serde_json::Value;

use super::renamed::Ids;

/// A fact of a report.
#[derive(Debug, Clone, PartialEq)]
pub enum Fact {
    /// A word.
    Word(String),
    /// A number.
    Number(f64),
}

impl fmt::Display for Fact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fact::Word(word) => f.write_str(word),
            Fact::Number(number) => write!(f, "{number:.9}"),
        }
    }
}

/// How the names in a report are to be read.
#[derive(Debug, Clone, Default)]
pub struct Reading {
    /// Identities, and what to call them instead.
    pub ids: Ids,
    /// True if forward is to be read as reverse.
    pub reversed: bool,
    /// True if blocks without a name are to be known by their identities.
    pub block_ids: bool,
}

/// The facts of a report, by name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Normal {
    facts: BTreeMap<String, Fact>,
}

/// Lines of a cut that are about settings.
pub const LINES: [&str; 4] = ["agree", "disagree", "one_dead", "now"];

/// The JSON report of a layout.
pub fn json(layout: &Layout) -> Value {
    serde_json::to_value(report::document("layout", layout, &check(layout))).unwrap()
}

/// The word of a plain value, as in the JSON report.
fn word(value: impl serde::Serialize) -> String {
    let value = serde_json::to_value(value).unwrap();
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

impl Reading {
    fn of(&self, id: impl ToString) -> String {
        let id = id.to_string();
        self.ids.get(&id).cloned().unwrap_or(id)
    }

    fn all<T: ToString>(&self, ids: impl IntoIterator<Item = T>) -> String {
        let ids: BTreeSet<String> = ids.into_iter().map(|id| self.of(id)).collect();
        ids.into_iter().collect::<Vec<_>>().join(" ")
    }

    fn setting(&self, set: SetWord) -> String {
        word(match (set, self.reversed) {
            (SetWord::Forward, true) => SetWord::Reverse,
            (SetWord::Reverse, true) => SetWord::Forward,
            (set, _) => set,
        })
    }
}

/// True for findings that name the cuts of a loop that comes back turned.
fn is_of_loop(finding: &Finding) -> bool {
    matches!(finding.kind, Kind::LoopUncut | Kind::LoopOneCut | Kind::UnbalancedLoop)
}

/// A report while it is read.
struct Reader<'a> {
    reading: &'a Reading,
    blocks: BTreeMap<String, String>,
    /// Selectors of gangs, and the gang.
    gangs: BTreeMap<String, String>,
    /// Cuts of loops that come back turned. Which directions agree there is a matter of where one starts to count.
    turned: BTreeSet<CutId>,
    said: BTreeMap<String, Vec<Fact>>,
}

impl Normal {
    /// The facts of a layout's report.
    pub fn of(layout: &Layout) -> Normal {
        Normal::read(layout, &Reading::default())
    }

    /// The facts of a layout's report, under the names that it is to be read with.
    pub fn read(layout: &Layout, reading: &Reading) -> Normal {
        Normal::from_report(&check_apart(layout), layout, reading)
    }

    /// The facts of a report.
    pub fn from_report(report: &Report, layout: &Layout, reading: &Reading) -> Normal {
        // Blocks are known by the names that the user gave; the made ones come from numbers.
        let names: BTreeSet<&str> = layout.labels.values().map(|l| l.name.as_str()).collect();
        let blocks = report.blocks.iter().map(|block| {
            let id = block.id.to_string();
            let other = if reading.block_ids { format!("block {id}") } else { "a block".into() };
            let known = names.contains(block.name.as_str());
            (id, if known { block.name.clone() } else { other })
        });
        let specials = layout.specials.values().map(|s| (s.id.to_string(), &s.gang));
        let devices = layout.devices.values().map(|d| (d.id.to_string(), &d.gang));
        let gangs = specials
            .chain(devices)
            .filter(|(_, gang)| !gang.is_empty())
            .map(|(id, gang)| (id, format!("gang {gang}")));
        let mut reader = Reader {
            reading,
            blocks: blocks.collect(),
            gangs: gangs.collect(),
            turned: report
                .findings
                .iter()
                .filter(|f| is_of_loop(f))
                .flat_map(Finding::cuts)
                .collect(),
            said: BTreeMap::new(),
        };
        reader.word("verdict", report.verdict.to_string());
        report.cuts.iter().for_each(|cut| reader.cut(cut));
        report.findings.iter().for_each(|finding| reader.finding(finding));
        reader.done()
    }

    /// The facts whose names pass.
    pub fn only(&self, passes: impl Fn(&str) -> bool) -> Normal {
        let facts = self.facts.iter().filter(|(name, _)| passes(name));
        Normal { facts: facts.map(|(name, fact)| (name.clone(), fact.clone())).collect() }
    }

    /// Without the lines of the settings now, and the findings that depend on them.
    pub fn without_now(&self) -> Normal {
        self.only(|name| name != "verdict" && !name.contains(" now "))
    }

    /// What this report says and the other does not (−), and the other way round (+); empty if both say the same.
    /// Numbers are the same within a millionth.
    pub fn differences(&self, other: &Normal) -> Vec<String> {
        let mut found = Vec::new();
        let names: BTreeSet<&String> = self.facts.keys().chain(other.facts.keys()).collect();
        for name in names {
            let (here, there) = (self.facts.get(name), other.facts.get(name));
            let same = match (here, there) {
                (Some(Fact::Number(a)), Some(Fact::Number(b))) => {
                    (a - b).abs() <= 1e-6 * (1.0 + a.abs().max(b.abs()))
                }
                (here, there) => here == there,
            };
            if !same {
                found.extend(here.map(|fact| format!("- {name}: {fact}")));
                found.extend(there.map(|fact| format!("+ {name}: {fact}")));
            }
        }
        found
    }
}

impl Reader<'_> {
    fn add(&mut self, name: String, fact: Fact) {
        self.said.entry(name).or_default().push(fact);
    }

    /// What is said several times under one name is counted, in an order of its own.
    fn done(self) -> Normal {
        let mut facts = BTreeMap::new();
        for (name, mut said) in self.said {
            said.sort_by(|a, b| match (a, b) {
                (Fact::Number(a), Fact::Number(b)) => a.total_cmp(b),
                (a, b) => a.to_string().cmp(&b.to_string()),
            });
            for (count, fact) in said.into_iter().enumerate() {
                let again = if count > 0 { format!(" ({})", count + 1) } else { String::new() };
                facts.insert(format!("{name}{again}"), fact);
            }
        }
        Normal { facts }
    }

    fn word(&mut self, name: &str, word: String) {
        self.add(name.to_owned(), Fact::Word(word));
    }

    fn number(&mut self, name: String, value: Option<f64>) {
        self.add(name, value.map_or_else(|| Fact::Word("none".into()), Fact::Number));
    }

    fn block(&self, id: impl ToString) -> String {
        self.blocks.get(&id.to_string()).cloned().unwrap_or_else(|| "no block".into())
    }

    fn cut(&mut self, cut: &CutReport) {
        let at = format!("cut {}", self.reading.of(cut.id));
        let sides: Vec<String> = cut.blocks.iter().map(|id| self.block(id)).collect();
        let mut sorted = sides.clone();
        sorted.sort();
        self.word(&format!("{at} between"), sorted.join(" and "));
        let turned = self.turned.contains(&cut.id);
        let lines = [&cut.agree, &cut.disagree, &cut.one_dead].map(Option::as_ref);
        for (line, situation) in LINES.into_iter().zip(lines.into_iter().chain([Some(&cut.now)])) {
            let line = match line {
                "agree" if turned => continue,
                "disagree" if turned => "agree or disagree",
                line => line,
            };
            let either = cut.agree.as_ref().filter(|_| line == "agree or disagree");
            let worse = |new: &&Situation| {
                situation.is_none_or(|old| {
                    (new.verdict, old.margin.unwrap_or(0.0))
                        > (old.verdict, new.margin.unwrap_or(0.0))
                })
            };
            match either.filter(worse).or(situation) {
                None => self.word(&format!("{at} {line} verdict"), "none".into()),
                Some(situation) => self.situation(&format!("{at} {line}"), situation),
            }
        }
        for cell in &cut.card {
            let mut settings = [cell.a, cell.b]
                .into_iter()
                .zip(&sides)
                .map(|(word, side)| format!("{side} {}", self.reading.setting(word)))
                .collect::<Vec<_>>();
            settings.sort();
            let relation = match cell.relation {
                Relation::Agree | Relation::Disagree if turned => "agree or disagree".into(),
                relation => word(relation),
            };
            let name = format!("{at} card {} ({relation})", settings.join(", "));
            self.situation(&name, &cell.situation);
        }
        // Which of too many selectors are left as they stand is not said: any choice is as good as another.
        self.number(format!("{at} held"), Some(cut.held_selectors.len() as f64));
    }

    fn situation(&mut self, at: &str, situation: &Situation) {
        self.word(&format!("{at} verdict"), situation.verdict.to_string());
        self.number(format!("{at} margin"), situation.margin);
    }

    fn place(&self, place: &Place) -> String {
        match place {
            Place::Cut(id) => self.reading.of(id),
            Place::Special(id) => self.reading.of(id),
            Place::Stretch { run, .. } => self.reading.of(run),
            Place::Block(id) => self.block(id),
        }
    }

    fn positions(&self, finding: &Finding) -> String {
        let sets = finding.positions.iter().map(|set| {
            let set: BTreeSet<String> = set
                .iter()
                .map(|at| {
                    let id = at.id.to_string();
                    // A contact is called after its special work: `w8.contact`.
                    let (of, part) = match id.split_once('.') {
                        Some((of, part)) => (of.to_owned(), format!(".{part}")),
                        None => (id.clone(), String::new()),
                    };
                    let own = || format!("{}{part}", self.reading.of(of));
                    let name = self.gangs.get(&id).cloned().unwrap_or_else(own);
                    format!("{name}={}", at.position)
                })
                .collect();
            set.into_iter().collect::<Vec<_>>().join(" ")
        });
        sets.collect::<BTreeSet<_>>().into_iter().collect::<Vec<_>>().join(" | ")
    }

    fn finding(&mut self, finding: &Finding) {
        if finding.kind == Kind::RestsOnJoiners {
            // One line for all of it, by design: each place by itself.
            for place in &finding.places {
                let name = format!("finding {} at {}", finding.kind, self.place(place));
                self.word(&name, finding.verdict.to_string());
            }
            return;
        }
        let places: BTreeSet<String> = finding.places.iter().map(|p| self.place(p)).collect();
        let places: Vec<String> = places.into_iter().collect();
        let name = format!(
            "finding {}{} at {places:?} of [{}] with [{}] in [{}]",
            if finding.now { "now " } else { "" },
            finding.kind,
            self.reading.all(&finding.drivers),
            self.reading.all(&finding.things),
            self.positions(finding)
        );
        self.word(&name, format!("{} {}", word(finding.class), finding.verdict));
    }
}

/// Weights of verdicts, ascending.
const VERDICTS: [&str; 7] =
    ["clear", "caution", "not-known", "stall", "back-feed", "overload", "short"];

fn weight(verdict: &Value) -> usize {
    VERDICTS.iter().position(|v| *verdict == **v).unwrap_or(0)
}

/// Kinds of findings that are about what a vehicle or train joins at a cut by its situations there.
const AT_CUTS: [&str; 10] = [
    "opposed-polarity",
    "swapped-feed",
    "idle-clamp",
    "back-feed",
    "mixed-drive",
    "phase-opposed",
    "phase-skewed",
    "boosters-unequal",
    "two-stations",
    "stall",
];

/// Cuts whose lines are all milder than a finding there.
pub fn milder_lines(document: &Value) -> Vec<String> {
    let mut wrong = Vec::new();
    for finding in list(&document["findings"]) {
        if !AT_CUTS.iter().any(|kind| finding["kind"] == **kind) {
            continue;
        }
        // One finding stands for one cause at several places: its verdict is that of the worst of them.
        let at = |cut: &&Value| list(&finding["places"]).iter().any(|at| at["cut"] == cut["id"]);
        let cuts = || list(&document["cuts"]).iter().filter(at);
        let worst = cuts().flat_map(|cut| LINES.map(|line| weight(&cut[line]["verdict"]))).max();
        if worst.is_some_and(|worst| worst < weight(&finding["verdict"])) {
            let lines = |cut: &Value| {
                let all = LINES.map(|line| format!("{line} {}", cut[line]["verdict"]));
                format!("{}: {}", cut["id"], all.join(", "))
            };
            wrong.push(format!(
                "{} {} {} where the lines say {}",
                finding["kind"],
                finding["class"],
                finding["verdict"],
                cuts().map(lines).collect::<Vec<_>>().join("; ")
            ));
        }
    }
    wrong
}
