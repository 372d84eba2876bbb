//! What stands against each cut, and how many of what: worked out once per report.

use std::collections::BTreeMap;

use crate::findings::{Class, Report, Verdict};
use crate::layout::CutId;

/// What stands against one cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// The worst of its faults and of how it is now. A rule's trap that is set now is no fault, but its cut is not clear
    /// either.
    Judged(Verdict),
    /// No driver feeds one of its sides, so nothing is judged.
    NotFed,
}

impl Standing {
    /// The verdict, [`Verdict::Clear`] where nothing is judged.
    pub fn verdict(self) -> Verdict {
        match self {
            Standing::Judged(verdict) => verdict,
            Standing::NotFed => Verdict::Clear,
        }
    }
}

/// Counts of one report. Linear in its cuts and in the places of its findings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// How many faults there are of each verdict, worst first.
    pub faults: Vec<(Verdict, usize)>,
    /// How many operating rules.
    pub rules: usize,
    /// How many notes.
    pub notes: usize,
    /// Cuts that are not clear and have a fault.
    pub faulty: usize,
    /// Cuts that only the settings now are against, and the worst of them now.
    pub set_against: (usize, Verdict),
    /// Cuts that are fed on both sides and have no fault and no trap set now.
    pub clear: usize,
    /// Cuts at which nothing is judged, since no driver feeds one of their sides.
    pub not_fed: usize,
    cuts: BTreeMap<CutId, Standing>,
}

impl Tally {
    /// Counts a report.
    pub fn of(report: &Report) -> Self {
        let mut worst: BTreeMap<CutId, Verdict> = BTreeMap::new();
        let mut faults: BTreeMap<Verdict, usize> = BTreeMap::new();
        let count = |class| report.findings.iter().filter(|f| f.class == class).count();
        for finding in report.findings.iter().filter(|f| f.class == Class::Fault) {
            *faults.entry(finding.verdict).or_default() += 1;
            for cut in finding.cuts() {
                let worst = worst.entry(cut).or_default();
                *worst = finding.verdict.max(*worst);
            }
        }
        let mut tally = Self {
            faults: faults.into_iter().rev().collect(),
            rules: count(Class::Rule),
            notes: count(Class::Note),
            ..Self::default()
        };
        for cut in &report.cuts {
            let verdict = worst.get(&cut.id).copied().unwrap_or_default().max(cut.now.verdict);
            if verdict > Verdict::Clear && worst.contains_key(&cut.id) {
                tally.faulty += 1;
            } else if verdict > Verdict::Clear {
                let (others, now) = tally.set_against;
                tally.set_against = (others + 1, now.max(cut.now.verdict));
            }
            let standing = if verdict == Verdict::Clear && cut.card.is_empty() {
                tally.not_fed += 1;
                Standing::NotFed
            } else {
                tally.clear += usize::from(verdict == Verdict::Clear);
                Standing::Judged(verdict)
            };
            tally.cuts.insert(cut.id, standing);
        }
        tally
    }

    /// What stands against a cut; `None` if the report does not have it.
    pub fn standing(&self, cut: CutId) -> Option<Standing> {
        self.cuts.get(&cut).copied()
    }

    /// "11 cuts clear".
    pub fn clear_words(&self) -> String {
        format!("{} {} clear", self.clear, if self.clear == 1 { "cut" } else { "cuts" })
    }

    /// "2 cuts not fed on both sides"; `None` if there are none.
    pub fn not_fed_words(&self) -> Option<String> {
        let n = self.not_fed;
        (n > 0)
            .then(|| format!("{n} {} not fed on both sides", if n == 1 { "cut" } else { "cuts" }))
    }

    /// "3 shorts, 1 overload, 11 cuts clear".
    pub fn words(&self) -> String {
        let faults = self.faults.iter().filter(|(verdict, _)| *verdict > Verdict::Clear);
        let mut parts: Vec<String> = faults.map(|(verdict, n)| counted(*verdict, *n)).collect();
        if self.rules > 0 {
            let s = if self.rules == 1 { "" } else { "s" };
            parts.push(format!("{} operating rule{s}", self.rules));
        }
        parts.extend(self.not_fed_words());
        parts.push(if self.cuts.is_empty() { "no cuts".to_owned() } else { self.clear_words() });
        parts.join(", ")
    }
}

/// A count with its word: "3 shorts".
pub fn counted(verdict: Verdict, n: usize) -> String {
    match verdict {
        Verdict::Clear => format!("{n} clear"),
        Verdict::NotKnown => format!("{n} not known"),
        other => format!("{n} {}{}", other.word(), if n == 1 { "" } else { "s" }),
    }
}
