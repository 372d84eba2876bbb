//! Everything that solves: places of a layout, in every set of positions that matters there, judged by the circuit.
//!
//! Data flow: [`Plan`] → one [`cut::Case`] per place and set of positions → [`cut::CutResult`], cached by content → a
//! [`View`] per set of positions. Rules in [`crate::findings`] read a view; they solve nothing themselves.

pub mod cause;
pub mod coin;
pub mod cut;
mod gather;
pub mod judge;
mod key;
pub mod loops;
mod memo;
pub mod places;
pub mod run;
mod shared;
pub mod situation;
pub(crate) mod types;

use std::collections::BTreeMap;
use std::sync::Arc;

pub use gather::Straddle;
pub use key::Key;
pub use loops::Loops;
pub use memo::Memo;
pub use shared::Shared;
pub use situation::Known;
pub use types::*;

use crate::layout::{CutId, Layout};
use crate::rails::{Lengths, Plan};
use coin::{CoinAt, CoinCase, CoinResult};
use cut::Evaluated;
use gather::gather;

/// A layout with all that was derived and solved.
pub struct Study<'a> {
    /// One view per set of positions that matters anywhere; the first has every selector as it stands now.
    pub views: Vec<View<'a>>,
    /// Selectors that were not tried, because there are too many, by cut.
    pub held: BTreeMap<CutId, Vec<SelectorId>>,
}

/// The study with the selectors in one set of positions.
pub struct View<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its plan in these positions.
    pub plan: Arc<Plan>,
    /// Each cut under single vehicles.
    pub known: BTreeMap<CutId, Known>,
    /// Each cut at which trains do more than their vehicles do alone.
    pub trains: BTreeMap<CutId, Known>,
    /// Boundaries of special work.
    pub straddles: Vec<Straddle>,
    /// True if every selector stands as it does now; other views hold only the places that differ.
    pub is_now: bool,
    /// Distances along the metal from the feeders; only in the view of now.
    pub lengths: Lengths,
    /// Coins across the rails; only in the view of now.
    pub coins: Vec<Coin>,
    /// Where the track leads back onto itself with its rails exchanged.
    pub loops: Arc<Loops>,
    /// What several rules need, computed once.
    pub shared: Shared,
}

/// A coin across the rails at the far end of a block.
pub struct Coin {
    /// Where it lies.
    pub at: CoinAt,
    /// Its numbers.
    pub case: CoinCase,
    /// What flows.
    pub result: Arc<CoinResult>,
}

impl<'a> Study<'a> {
    /// Derives and solves everything that the findings of a layout need.
    pub fn of(layout: &'a Layout, memo: &Memo) -> Study<'a> {
        let plan = Arc::new(Plan::derive(layout));
        let mut gathered = gather(layout, &plan, memo);
        let held = std::mem::take(&mut gathered.held);
        let mut views = gathered.views(layout);
        let loops = Arc::new(Loops::derive(layout, &plan));
        for view in &mut views {
            view.loops = Arc::clone(&loops);
        }
        if let Some(view) = views.first_mut() {
            view.lay_coins(memo);
        }
        Study { views, held }
    }

    /// The view with every selector as it stands now.
    pub fn now(&self) -> &View<'a> {
        &self.views[0]
    }
}

impl<'a> View<'a> {
    /// A view of a plan without any solved place.
    pub fn bare(layout: &'a Layout, plan: Arc<Plan>, is_now: bool) -> View<'a> {
        View {
            layout,
            plan,
            known: BTreeMap::new(),
            trains: BTreeMap::new(),
            straddles: Vec::new(),
            is_now,
            lengths: Lengths::default(),
            coins: Vec::new(),
            loops: Arc::default(),
            shared: Shared::default(),
        }
    }

    /// Lays a coin across the rails at the far end of every block.
    fn lay_coins(&mut self, memo: &Memo) {
        let layout = self.layout;
        self.lengths = Lengths::of(layout, &self.plan);
        let (plan, lengths) = (&self.plan, &self.lengths);
        let blocks = plan.blocks.iter().enumerate();
        let found: Vec<(CoinCase, CoinAt)> = blocks
            .flat_map(|(at, block)| block.drivers.iter().map(move |&driver| (at, driver)))
            .filter_map(|(at, driver)| coin::coin_of(layout, plan, lengths, at, driver, None))
            .collect();
        let cases: Vec<&CoinCase> = found.iter().map(|(case, _)| case).collect();
        let results = memo.coins(&cases);
        let coins = found.into_iter().zip(results);
        self.coins = coins.map(|((case, at), result)| Coin { at, case, result }).collect();
    }

    /// The situation of an evaluated place, with names.
    pub fn situation(&self, known: &Known, evaluated: &Evaluated) -> Situation {
        Situation {
            selectors: known.selectors.clone(),
            ..situation::situation(&self.plan, &known.case, &known.around, evaluated)
        }
    }

    /// Every cut that was solved: under single vehicles, then under trains.
    pub fn all_known(&self) -> impl Iterator<Item = (CutId, &Known)> {
        self.known.iter().chain(&self.trains).map(|(&cut, known)| (cut, known))
    }

    /// Name of a cut: the user's, or its identity.
    pub fn cut_name(&self, cut: CutId) -> String {
        match self.layout.cuts.get(&cut) {
            Some(c) if !c.name.is_empty() => c.name.clone(),
            _ => cut.to_string(),
        }
    }
}

/// Length over couplers of the stand-in vehicle, used where a layout has no vehicle, mm.
pub const STAND_IN_MM: f64 = 210.0;
