//! The borrowed model of the view: the findings in their order, and what was decided on each.

use std::rc::Rc;

use super::super::App;
use super::super::findings::{self, class_order, place_words};
use super::{By, Noting, View};
use crate::findings::{Decisions, Finding, FindingId, Text, again, ground};
use crate::layout::{Decided, Decision, DecisionId, Lineup, capital, shown};

/// One finding as the view shows it.
pub(super) struct Item<'a> {
    pub id: FindingId,
    pub finding: &'a Finding,
    pub words: &'a Text,
    /// Its place in a few words.
    pub place: String,
    pub decision: Option<&'a Decision>,
    /// Reason to look at the decision again, a sentence.
    pub again: Option<String>,
    /// The group that it is in, in the order that was chosen.
    pub group: String,
}

impl Item<'_> {
    /// State of its decision.
    pub fn state(&self) -> Decided {
        self.decision.map_or(Decided::Open, |decision| decision.state)
    }
}

/// The borrowed model of the view.
pub(super) struct Model<'a> {
    pub view: &'a View,
    /// The findings, in the order that was chosen.
    pub items: Vec<Item<'a>>,
    /// Index of the one that is shown.
    pub at: Option<usize>,
    /// Decisions on findings that the report does not have.
    pub past: Vec<&'a Decision>,
    pub lineups: Vec<&'a Lineup>,
    /// True if the check has looked at this very layout, and if it is looking.
    pub is_checked: bool,
    pub is_looking: bool,
    pub verdict: String,
    /// Whether the layout has changes that are in no file.
    pub unsaved: bool,
    /// Size of letters against the usual one, and how far they read, m.
    pub factor: f32,
    pub reads_m: f32,
    pub last_row_m: f32,
}

impl<'a> Model<'a> {
    /// The model of the window as it is.
    pub fn of(app: &'a App) -> Model<'a> {
        let latest = &app.check.latest;
        let layout = app.doc.layout();
        let order = order(app, app.review.by);
        let at = position(app, &order);
        let decisions = Rc::clone(&app.review.decided.decisions);
        let is_checked = app.check.is_current(app.doc.revision());
        let item = |n: &usize| {
            let (finding, words) = (latest.report.findings.get(*n)?, latest.words.get(*n)?);
            let decision = decisions.on(layout, *n);
            let again = decision.and_then(|decision| again(decision, finding));
            let (id, place) = (finding.id(), place_words(app, finding));
            let group = group(app, &decisions, app.review.by, *n);
            Some(Item { id, finding, words, place, decision, again, group })
        };
        let (factor, reads_m) = app.letters();
        Model {
            view: &app.review,
            items: order.iter().filter_map(item).collect(),
            at,
            // Before the check has looked, nothing is known to be past.
            past: if is_checked { decisions.past(layout) } else { Vec::new() },
            lineups: layout.lineups.values().collect(),
            is_checked,
            is_looking: app.check.going().is_some(),
            verdict: latest.tally.words(),
            unsaved: app.doc.is_changed(),
            factor,
            reads_m,
            last_row_m: app.settings.room.last_row_m,
        }
    }

    /// The finding that is shown.
    pub fn item(&self) -> Option<&Item<'a>> {
        self.items.get(self.at?)
    }

    /// Number of findings in each state, in the order of [`Decided::ALL`].
    pub fn states(&self) -> [usize; 4] {
        Decided::ALL.map(|state| self.items.iter().filter(|item| item.state() == state).count())
    }
}

/// Indices of the findings of the report in an order.
pub(super) fn order(app: &App, by: By) -> Vec<usize> {
    let report = &app.check.latest.report;
    let decisions = &app.review.decided.decisions;
    let mut order: Vec<usize> = (0..report.findings.len()).collect();
    let key = |n: &usize| {
        let class = class_order(report.findings[*n].class);
        // What is in no group comes last.
        let group = match by {
            By::State => (decisions.on(app.doc.layout(), *n).map_or(Decided::Open, |d| d.state)
                as usize)
                .to_string(),
            By::Weight | By::Block | By::Owner => group(app, decisions, by, *n).to_lowercase(),
        };
        (group.starts_with(NOTHING), group, class, *n)
    };
    order.sort_by_cached_key(key);
    order
}

/// Beginning of the names of groups without an owner or a block.
const NOTHING: &str = "no ";

/// The group that a finding is in.
fn group(app: &App, decisions: &Decisions, by: By, n: usize) -> String {
    let report = &app.check.latest.report;
    let Some(finding) = report.findings.get(n) else { return String::new() };
    let decision = decisions.on(app.doc.layout(), n);
    match by {
        By::Weight => String::new(),
        By::Block => {
            let block = finding.blocks.first();
            let block = block.and_then(|id| report.blocks.iter().find(|b| b.id == *id));
            block.map_or_else(|| "no block".to_owned(), |block| block.name.clone())
        }
        By::Owner => match decision.map(|d| shown(d.owner.trim()).into_owned()) {
            Some(owner) if !owner.is_empty() => owner,
            _ => "no owner".to_owned(),
        },
        By::State => capital(decision.map_or(Decided::Open, |d| d.state).word()),
    }
}

/// Position of the open finding in an order.
pub(super) fn position(app: &App, order: &[usize]) -> Option<usize> {
    let open = findings::opened_at(app)?;
    order.iter().position(|n| *n == open)
}

/// The decision whose form is open, to be changed, and whether it is new.
pub(super) fn decision_to_change(app: &App, noting: Noting) -> Option<(Decision, bool)> {
    match noting {
        Noting::Past(id) => Some((app.doc.layout().decisions.get(&id)?.clone(), false)),
        Noting::Finding => on_finding(app),
    }
}

/// The decision on the finding that is shown; a new one on the ground of now if there is none.
fn on_finding(app: &App) -> Option<(Decision, bool)> {
    let at = findings::opened_at(app)?;
    let latest = &app.check.latest;
    let (finding, words) = (latest.report.findings.get(at)?, latest.words.get(at)?);
    let id = finding.id();
    let layout = app.doc.layout();
    let known = app.review.decided.decisions.on(layout, at).cloned();
    let is_new = known.is_none();
    let decision = known.unwrap_or_else(|| Decision {
        id: DecisionId(0),
        finding: id.to_string(),
        said: words.says.clone(),
        ground: ground(finding),
        state: Decided::Open,
        decision: String::new(),
        owner: String::new(),
        date: String::new(),
        lineup: None,
        notes: String::new(),
    });
    Some((decision, is_new))
}

/// The same decision on the ground of now.
pub(super) fn on_ground_of_now(app: &App, decision: Decision) -> Decision {
    let latest = &app.check.latest;
    let at = findings::opened_at(app);
    let Some((finding, words)) =
        at.and_then(|at| Some((latest.report.findings.get(at)?, latest.words.get(at)?)))
    else {
        return decision;
    };
    let (said, ground) = (words.says.clone(), ground(finding));
    Decision { finding: finding.id().to_string(), said, ground, ..decision }
}

/// Reason to look at the decision on the finding that is shown again, a sentence.
pub(super) fn again_words(app: &App, decision: &Decision) -> Option<String> {
    again(decision, findings::opened(app)?)
}
