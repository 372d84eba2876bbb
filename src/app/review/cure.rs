//! The cheapest proved cure of the finding that is shown.

use super::super::App;
use super::super::cures::{Plan, Said};
use crate::cure::NoCure;
use crate::findings::{FindingId, titles};

/// The cure of a finding.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Cure {
    /// No finding is shown, or its layout is being checked.
    #[default]
    Unknown,
    /// It is looked for.
    Searching,
    /// There is none, with the reason.
    None(String),
    /// There is one.
    First(Box<First>),
}

/// The cheapest cure.
#[derive(Debug, Clone, PartialEq)]
pub struct First {
    /// Its jobs.
    pub plan: Plan,
    /// How many more findings it ends.
    pub others: usize,
    /// How many more cures there are.
    pub more: usize,
    /// Rules and notes that are new after it, in words.
    pub makes: String,
    /// Margin at the gap before and after, where it tells of this finding: a trip acts before.
    pub margin: Option<[f64; 2]>,
}

/// Asks for the cures of the finding that is shown.
pub(super) fn update(app: &mut App) {
    let revision = app.doc.revision();
    let open = app.open_finding.clone();
    app.review.cure = match open {
        Some(id) if app.check.is_current(revision) => found(app, revision, &id),
        _ => Cure::Unknown,
    };
}

fn found(app: &mut App, revision: u64, id: &FindingId) -> Cure {
    match app.cures.of(revision, app.doc.layout(), id) {
        Said::Searching => Cure::Searching,
        Said::Nothing(None) => Cure::None("The search for cures was stopped.".to_owned()),
        Said::Nothing(Some(why)) => Cure::None(format!("The search for cures broke down: {why}.")),
        Said::Offers(offers) => match offers.offers.first() {
            Some(offer) => Cure::First(Box::new(First {
                plan: Plan::of(offer),
                others: offer.ends.iter().filter(|other| *other != id).count(),
                more: offers.offers.len() - 1,
                makes: titles(&offer.makes).join(", "),
                margin: match offer.margin {
                    [Some(before), Some(after)] if before < 0.0 => Some([before, after]),
                    _ => None,
                },
            })),
            None => Cure::None(offers.no_cure.as_ref().map(NoCure::says).unwrap_or_default()),
        },
    }
}

/// The cure as a plan, if there is one.
pub(super) fn plan(app: &App) -> Option<Plan> {
    match &app.review.cure {
        Cure::First(first) => Some(first.plan.clone()),
        Cure::Unknown | Cure::Searching | Cure::None(_) => None,
    }
}
