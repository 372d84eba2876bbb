//! The borrowed model of the view: the findings in their order, and what was decided on each.

use super::super::App;
use super::super::findings::{self, class_order, place_words};
use super::{By, View};
use crate::findings::{
    Class, Finding, FindingId, Text, decision_on, decisions_past, ground, ground_changed,
};
use crate::layout::{Decided, Decision, DecisionId, Lineup, shown};

/// One finding as the view shows it.
pub(super) struct Item<'a> {
    pub id: FindingId,
    pub finding: &'a Finding,
    pub words: &'a Text,
    /// Where it is, in a few words.
    pub place: String,
    pub decision: Option<&'a Decision>,
    /// How it counted when it was decided on, if that was otherwise than now; and how now.
    pub changed: Option<(String, String)>,
}

impl Item<'_> {
    /// What was decided.
    pub fn state(&self) -> Decided {
        self.decision.map_or(Decided::Open, |decision| decision.state)
    }

    /// Its class in a word, or its verdict.
    pub fn weight(&self) -> &'static str {
        match self.finding.class {
            Class::Fault => self.finding.verdict.plain(),
            Class::Rule => "operating rule",
            Class::Note => "note",
        }
    }
}

/// The borrowed model of the view.
pub(super) struct Model<'a> {
    pub view: &'a View,
    /// The findings, in the order that was chosen.
    pub items: Vec<Item<'a>>,
    /// Which of them is shown.
    pub at: Option<usize>,
    /// Decisions on findings that the report does not have.
    pub past: Vec<&'a Decision>,
    pub lineups: Vec<&'a Lineup>,
    /// True if the check has looked at this very layout.
    pub is_checked: bool,
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
        let item = |n: &usize| {
            let (finding, words) = (latest.report.findings.get(*n)?, latest.words.get(*n)?);
            let id = finding.id();
            let decision = decision_on(layout, &id);
            let changed = decision
                .filter(|decision| ground_changed(decision, finding))
                .map(|decision| (shown(&decision.ground).into_owned(), ground(finding)));
            let place = place_words(app, finding);
            Some(Item { id, finding, words, place, decision, changed })
        };
        let (factor, reads_m) = app.letters();
        Model {
            view: &app.review,
            items: order.iter().filter_map(item).collect(),
            at,
            past: decisions_past(layout, &latest.report),
            lineups: layout.lineups.values().collect(),
            is_checked: app.check.is_current(app.doc.revision()),
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

    /// How many findings are in each state, in the order of [`Decided::ALL`].
    pub fn states(&self) -> [usize; 4] {
        Decided::ALL.map(|state| self.items.iter().filter(|item| item.state() == state).count())
    }
}

/// Indices of the findings of the report in an order.
pub(super) fn order(app: &App, by: By) -> Vec<usize> {
    let (report, layout) = (&app.check.latest.report, app.doc.layout());
    let mut order: Vec<usize> = (0..report.findings.len()).collect();
    let key = |n: &usize| {
        let finding = &report.findings[*n];
        let class = class_order(finding.class);
        let decision = || decision_on(layout, &finding.id());
        let words = match by {
            By::Weight => String::new(),
            By::Block => {
                let block = finding.blocks.first();
                let block = block.and_then(|id| report.blocks.iter().find(|b| b.id == *id));
                // What is in no block comes last.
                block.map_or_else(|| "\u{10ffff}".to_owned(), |block| block.name.clone())
            }
            By::Owner => match decision().map(|d| d.owner.trim().to_lowercase()) {
                Some(owner) if !owner.is_empty() => owner,
                _ => "\u{10ffff}".to_owned(),
            },
            By::State => {
                let state = decision().map_or(Decided::Open, |d| d.state);
                (state as usize).to_string()
            }
        };
        (words, class, *n)
    };
    order.sort_by_cached_key(key);
    order
}

/// Where the finding that is open stands in an order.
pub(super) fn position(app: &App, order: &[usize]) -> Option<usize> {
    let open = findings::opened_at(app)?;
    order.iter().position(|n| *n == open)
}

/// The decision on the finding that is shown, to be changed; a new one if there is none, and whether it is new. Changed, it
/// is on the ground of now.
pub(super) fn decision_to_change(app: &App) -> Option<(Decision, bool)> {
    let at = findings::opened_at(app)?;
    let latest = &app.check.latest;
    let (finding, words) = (latest.report.findings.get(at)?, latest.words.get(at)?);
    let id = finding.id();
    let layout = app.doc.layout();
    let known = decision_on(layout, &id).cloned();
    let is_new = known.is_none();
    let decision = known.unwrap_or(Decision {
        id: DecisionId(0),
        finding: id.to_string(),
        said: String::new(),
        ground: String::new(),
        state: Decided::Open,
        decision: String::new(),
        owner: String::new(),
        date: String::new(),
        lineup: None,
        notes: String::new(),
    });
    Some((Decision { said: words.says.clone(), ground: ground(finding), ..decision }, is_new))
}
