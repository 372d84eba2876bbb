//! Proposals applied to a copy, checked, and kept if they cure.

use super::compare::{Two, lineups};
use super::{MOST_OFFERS, Surgery};
use crate::findings::{self, Finding, FindingId, Kind, Near, titles};
use crate::job::{Job, Work, also, work};
use crate::layout::Refused;
use crate::study::{Study, View};

/// Jobs that are proved to end a finding and to make nothing worse.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// The jobs, in order.
    pub jobs: Vec<Job>,
    /// The same as sentences.
    pub says: Vec<String>,
    /// The cost.
    pub work: Work,
    /// Findings of the report that it ends.
    pub ends: Vec<FindingId>,
    /// Kinds of rules and notes that are new after it, each once.
    pub makes: Vec<Kind>,
    /// Side effects, a sentence each.
    pub also: Vec<&'static str>,
    /// Margin at the finding's gap with agreeing settings, before and after: 1 where nothing flows, 0 where a trip just
    /// acts, below 0 beyond. `None` where a side is not computed, or the finding is at no gap.
    pub margin: [Option<f64>; 2],
}

/// What is offered for one finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Offers {
    /// The cures, the cheapest first.
    pub offers: Vec<Offer>,
    /// Why there are none.
    pub no_cure: Option<NoCure>,
    /// Layouts that were checked.
    pub checked: usize,
    /// True if all proposals were tried, or enough cheaper ones cure.
    pub exhaustive: bool,
}

/// Why nothing is offered.
#[derive(Debug, Clone, PartialEq)]
pub enum NoCure {
    /// No change of the catalogue applies to such a finding.
    NoneProposed,
    /// Some changes were tried, and each leaves it or makes something worse. The nearest, with the kinds of faults that
    /// it makes; no kinds if it leaves the finding.
    Tried {
        /// How many were tried.
        changes: usize,
        /// The nearest, as sentences.
        nearest: Vec<String>,
        /// Kinds of faults that the nearest makes.
        makes: Vec<Kind>,
    },
    /// The bound on layouts to check was reached first.
    NotSearched,
}

impl NoCure {
    /// One sentence for a person.
    pub fn says(&self) -> String {
        match self {
            NoCure::NoneProposed => {
                "No change that could be proved on this layout ends it; follow the advice.".into()
            }
            NoCure::Tried { changes, nearest, makes } => {
                let tried = match changes {
                    1 => "One change was tried".to_owned(),
                    n => format!("{n} changes were tried"),
                };
                if makes.is_empty() {
                    return format!("{tried}; none ends it.");
                }
                format!(
                    "{tried}; none ends it without making something worse. The nearest (\"{}\") makes: {}.",
                    nearest.join(" ").trim_end_matches('.'),
                    titles(makes).join(", ")
                )
            }
            NoCure::NotSearched => {
                "Not searched: the bound on layouts to check was reached. Ask for this one alone."
                    .into()
            }
        }
    }
}

/// A layout after jobs, looked at.
pub(super) struct Tried {
    /// Findings that are gone, of the report.
    pub(super) ends: Vec<FindingId>,
    /// Kinds that are new after.
    pub(super) makes: Vec<Kind>,
    /// Faults that are worse.
    pub(super) worse: Vec<Finding>,
    /// The study after.
    pub(super) study: Study,
}

/// Does jobs on a copy and looks at what comes of them.
pub(super) fn tried(surgery: &Surgery, jobs: &[Job]) -> Result<Tried, Refused> {
    let study = surgery.after(jobs)?;
    let after = findings::apart_of(&study);
    let (was, is) = (surgery.study.now(), study.now());
    let two = Two { before: &surgery.apart, after: &after, old: &was.plan, new: &is.plan };
    let gone = surgery.report.findings.iter().filter(|f| two.is_gone(f));
    let ends = gone.map(Finding::id).collect();
    let worse = two.worse().into_iter().cloned().collect();
    let makes = kinds(&two.makes());
    Ok(Tried { ends, makes, worse, study })
}

/// What comes of jobs that make nothing worse, in the layout as it stands and in its lineups; `None` if they do, or one of
/// them does not apply.
pub(super) fn sound(surgery: &Surgery, jobs: &[Job]) -> Option<Tried> {
    let tried = tried(surgery, jobs).ok()?;
    let sound = tried.worse.is_empty() && worse_in_lineups(surgery, &tried.study).is_empty();
    sound.then_some(tried)
}

/// The same jobs without those that are not needed: `keeps` says whether what comes of fewer still does. Counts the
/// layouts that it checks.
pub(super) fn without_needless(
    surgery: &Surgery,
    jobs: Vec<Job>,
    checked: &mut usize,
    keeps: impl Fn(&Tried) -> bool,
) -> Vec<Job> {
    let mut jobs = jobs;
    let mut at = jobs.len();
    while at > 0 && jobs.len() > 1 {
        at -= 1;
        let mut fewer = jobs.clone();
        fewer.remove(at);
        *checked += 1;
        if sound(surgery, &fewer).is_some_and(|tried| keeps(&tried)) {
            jobs = fewer;
        }
    }
    jobs
}

/// Kinds of faults that jobs make worse in some lineup of the layout.
fn worse_in_lineups(surgery: &Surgery, after: &Study) -> Vec<Kind> {
    let mut worse = Vec::new();
    let pairs = lineups(surgery.layout()).zip(lineups(after.layout()));
    for (old, new) in pairs {
        let (old, new) = (surgery.study.revised(old), after.revised(new));
        let (before, later) = (findings::apart_of(&old), findings::apart_of(&new));
        let (was, is) = (old.now(), new.now());
        let two = Two { before: &before, after: &later, old: &was.plan, new: &is.plan };
        worse.extend(kinds(&two.worse()));
    }
    worse
}

fn kinds(findings: &[&Finding]) -> Vec<Kind> {
    let mut kinds: Vec<Kind> = findings.iter().map(|f| f.kind).collect();
    kinds.sort();
    kinds.dedup();
    kinds
}

/// Jobs on the way to an offer.
struct Way {
    jobs: Vec<Job>,
    /// How often they were extended.
    depth: usize,
}

/// How often jobs that make something worse are extended by a cure of that.
const MOST_EXTENDED: usize = 2;
/// Extensions that are tried of one.
const MOST_EXTENSIONS: usize = 6;

/// The offers for a finding; at most `most` layouts are checked.
///
/// Proposals are tried in the order of their cost. Where one ends the finding and makes something else worse, cures of
/// that are added and tried in their turn: a new feeder from a bridge that brakes comes with its idle state.
pub(super) fn offers(surgery: &Surgery, finding: &Finding, most: usize) -> Offers {
    let proposals = proposals(surgery.study.now(), finding).into_iter();
    let mut ways: Vec<Way> = proposals.map(|jobs| Way { jobs, depth: 0 }).collect();
    let mut out = Offers { offers: Vec::new(), no_cure: None, checked: 0, exhaustive: true };
    let mut nearest: Option<(Vec<Job>, Vec<Kind>)> = None;
    while out.offers.len() < MOST_OFFERS {
        // Of equal cost the first.
        let next = ways.iter().enumerate().min_by_key(|(at, way)| (work(&way.jobs), *at));
        let Some((at, _)) = next else { break };
        let Way { jobs, depth } = ways.remove(at);
        if out.offers.iter().any(|offer| is_needless(&jobs, &offer.jobs)) {
            continue;
        }
        if out.checked >= most {
            out.exhaustive = false;
            break;
        }
        let Ok(tried) = tried(surgery, &jobs) else { continue };
        out.checked += 1;
        if !tried.ends.contains(&finding.id()) {
            continue;
        }
        let mut worse = kinds(&tried.worse.iter().collect::<Vec<_>>());
        if worse.is_empty() {
            worse = worse_in_lineups(surgery, &tried.study);
        }
        if worse.is_empty() {
            let id = finding.id();
            let ends = |tried: &Tried| tried.ends.contains(&id);
            let fewer = match depth {
                0 => jobs.clone(),
                _ => without_needless(surgery, jobs.clone(), &mut out.checked, ends),
            };
            if fewer.len() < jobs.len() {
                // It is tried in its turn, and other offers may be it already.
                ways.push(Way { jobs: fewer, depth: 0 });
            } else {
                out.offers.push(offer(surgery, finding, jobs, tried));
            }
            continue;
        }
        if depth < MOST_EXTENDED {
            let extended =
                extended(&jobs, &tried).into_iter().map(|jobs| Way { jobs, depth: depth + 1 });
            ways.extend(extended);
        }
        if nearest.as_ref().is_none_or(|(_, old)| worse.len() < old.len()) {
            nearest = Some((jobs, worse));
        }
    }
    if out.offers.is_empty() {
        out.no_cure = Some(match (out.checked, nearest) {
            (0, _) if !out.exhaustive => NoCure::NotSearched,
            (0, _) => NoCure::NoneProposed,
            (changes, nearest) => {
                let (jobs, makes) = nearest.unwrap_or_default();
                let nearest = super::sentences(surgery.layout(), &jobs);
                NoCure::Tried { changes, nearest, makes }
            }
        });
    }
    out
}

/// True if jobs do more than an offer does, or the same in another measure.
fn is_needless(jobs: &[Job], offer: &[Job]) -> bool {
    let more = offer.iter().all(|job| jobs.contains(job));
    // In whatever order.
    let like = offer.len() == jobs.len() && offer.iter().all(|a| jobs.iter().any(|b| a.is_like(b)));
    more || like
}

/// Jobs with cures of the first thing that they make worse.
fn extended(jobs: &[Job], tried: &Tried) -> Vec<Vec<Job>> {
    let Some(worse) = tried.worse.first() else { return Vec::new() };
    let more = proposals(tried.study.now(), worse).into_iter().take(MOST_EXTENSIONS);
    more.map(|more| jobs.iter().cloned().chain(more).collect()).collect()
}

/// What a finding's room proposes in the view of now, the cheapest first; each once.
fn proposals(view: View, finding: &Finding) -> Vec<Vec<Job>> {
    let near = Near { view: &view, finding };
    let mut proposals: Vec<Vec<Job>> = Vec::new();
    for cure in findings::cures(&near) {
        if !cure.jobs.is_empty() && !proposals.contains(&cure.jobs) {
            proposals.push(cure.jobs);
        }
    }
    // Stable: of equal cost the room's order holds.
    proposals.sort_by_key(|jobs| work(jobs));
    proposals
}

fn offer(surgery: &Surgery, finding: &Finding, jobs: Vec<Job>, tried: Tried) -> Offer {
    let after = findings::report_of(&tried.study);
    let margin = |report: &findings::Report| {
        let cut = finding.cuts().first().copied()?;
        let cut = report.cuts.iter().find(|c| c.id == cut)?;
        cut.agree.as_ref().and_then(|s| s.margin)
    };
    Offer {
        says: super::sentences(surgery.layout(), &jobs),
        work: work(&jobs),
        ends: tried.ends,
        makes: tried.makes,
        also: also(&jobs),
        margin: [margin(&surgery.report), margin(&after)],
        jobs,
    }
}
