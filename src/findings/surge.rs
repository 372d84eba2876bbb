//! `surge`: two blocks that idle without clamping drive one locomotive together while it stands in both.

use super::shared::at_cut;
use super::units::percent;
use super::{Class, Cure, Evident, Finding, Found, Kind, Near, Text, Verdict, View, Words};
use crate::job::Job;

/// Shares of time for which a locomotive over the gap is driven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// By the first side.
    pub first: f64,
    /// By the second side.
    pub second: f64,
    /// By either.
    pub both: f64,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let known = view.known.iter();
    let found = known.filter_map(|(&cut, known)| {
        let [first, second, both] = known.result.surge?;
        let evidence = Evidence { first, second, both };
        let found = at_cut(view, cut, Kind::Surge, Class::Note, Verdict::Clear, evidence);
        Some(Found { now: true, ..found })
    });
    found.collect()
}

/// True for two notes: at every gap they ask for nothing.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    a.class == Class::Note && b.class == Class::Note
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!(
            "{}: a locomotive surges to {} of drive while it stands in both blocks",
            w.places(),
            percent(e.both)
        ),
        why: format!(
            "{} drives for {} of the time and {} for {}. Neither clamps when idle and their clocks are independent, \
             so a locomotive that stands in both is driven for {} of the time (a + b − a·b). It speeds up over \
             the gap; nothing is harmed.",
            w.block(0),
            percent(e.first),
            w.block(1),
            percent(e.second),
            percent(e.both)
        ),
        advice: vec![
            "Run both drivers from one PWM clock in phase if the surge is unwelcome.".into(),
        ],
        more: String::new(),
        cautions: Vec::new(),
    }
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    vec![Job::OneClock(near.finding.drivers.clone()).into()]
}

#[cfg(test)]
pub(super) mod tests {
    use approx::assert_abs_diff_eq;

    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Evidence as Any, Kind, Verdict, check};
    use crate::layout::Direction;

    pub fn pairs() -> Vec<Pair> {
        // 0.4 + 0.8 − 0.32 = 0.88 of drive.
        vec![Pair {
            with: yard(""),
            twin: set(&yard(""), D2, Direction::Forward, 1.0),
            class: Class::Note,
            verdict: Verdict::Clear,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: a locomotive surges to 88 % of drive while it stands in both blocks",
        }]
    }

    #[test]
    fn either_drives_for_a_plus_b_less_what_they_do_together() {
        let report = check(&pairs()[0].with);
        let found = the_one(&report, Kind::Surge, Class::Note, Verdict::Clear);
        let Any::Surge(e) = &found.evidence else { panic!("{found:?}") };
        for (share, expected) in [(e.first, 0.4), (e.second, 0.8), (e.both, 0.88)] {
            assert_abs_diff_eq!(share, expected, epsilon = 1e-9);
        }
    }
}
