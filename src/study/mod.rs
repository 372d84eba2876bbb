//! Everything that solves: places of a layout, in every set of positions that matters there, judged by the circuit.
//!
//! Data flow: [`Plan`] → one [`cut::Case`] per place and set of positions → [`cut::CutResult`], cached by content → a
//! [`View`] per set of positions. Rules in [`crate::findings`] read a view; they solve nothing themselves.
//!
//! A study of an edited layout ([`Study::with`]) keeps every stage that the edit leaves alone.

pub mod causes;
pub mod coin;
pub mod cut;
pub(crate) mod fight;
mod gather;
pub mod judge;
mod key;
mod limit;
mod load;
pub mod loops;
mod memo;
pub mod places;
mod progress;
pub mod run;
pub mod scope;
mod shared;
pub mod situation;
pub(crate) mod together;
mod touched;
pub(crate) mod types;

use std::collections::BTreeMap;
use std::ops::Deref;
use std::sync::Arc;

pub use coin::Coin;
pub use gather::Straddle;
pub use key::Key;
pub use loops::Loops;
pub use memo::Memo;
pub use progress::{Progress, Stopped};
pub use shared::Shared;
pub use situation::Known;
pub use types::*;

use crate::layout::{CutId, Edit, Layout, Refused, apply};
use crate::rails::{Lengths, Metal, Plan, Positions};
use coin::{CoinCase, CoinResult};
use cut::{Case, CutResult, Evaluated, Stock};
use gather::{Grounds, KnownIn, Old, Plans, Site};
use touched::Touched;

/// A layout with all that was derived and solved. Clones share everything.
#[derive(Clone)]
pub struct Study {
    layout: Arc<Layout>,
    memo: Memo,
    stock: Arc<Stock>,
    plans: Arc<Plans>,
    grounds: Arc<Grounds>,
    sites: Arc<Vec<Site>>,
    views: Vec<Arc<ViewData>>,
}

/// The study with the selectors in one set of positions.
#[derive(Clone)]
pub struct View<'a> {
    /// The layout.
    pub layout: &'a Layout,
    study: &'a Study,
    data: Arc<ViewData>,
}

/// What a [`View`] shows beside the layout.
#[derive(Debug, PartialEq)]
pub struct ViewData {
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
    pub lengths: Arc<Lengths>,
    /// Coins across the rails; only in the view of now.
    pub coins: Vec<Coin>,
    /// Where the track leads back onto itself with its rails exchanged.
    pub loops: Arc<Loops>,
    /// What several rules need, computed once.
    pub shared: Shared,
}

impl Study {
    /// Derives and solves everything that the findings of a layout need.
    pub fn of(layout: &Layout, memo: &Memo) -> Study {
        Study::derive(Arc::new(layout.clone()), memo, None)
    }

    /// The study of the layout after an edit. Only what the edit touches is derived again and solved.
    ///
    /// # Errors
    /// The edit is refused.
    pub fn with(&self, edit: &Edit) -> Result<Study, Refused> {
        let mut layout = Layout::clone(&self.layout);
        apply(&mut layout, edit.clone())?;
        Ok(self.revised(layout))
    }

    /// The study of another state of the same layout. Only what differs is derived again and solved.
    pub fn revised(&self, layout: Layout) -> Study {
        Study::derive(Arc::new(layout), &self.memo, Some(self))
    }

    /// Goes through the stages; keeps those of an older study whose inputs are the same.
    fn derive(layout: Arc<Layout>, memo: &Memo, old: Option<&Study>) -> Study {
        let all = Touched { metal: true, plans: true, rolling: true, values: true, settings: true };
        let touched = old.map_or(all, |old| Touched::between(&old.layout, &layout));
        let stock = match old.filter(|_| !touched.rolling) {
            Some(old) => Arc::clone(&old.stock),
            None => Arc::new(Stock::of(&layout)),
        };
        let (plans, grounds) = match old.filter(|_| !touched.plans && !touched.rolling) {
            Some(old) => (Arc::clone(&old.plans), Arc::clone(&old.grounds)),
            None => {
                let spare = old.filter(|_| !touched.plans).map(|old| &*old.plans);
                let mut plans = Plans::of(match spare {
                    Some(plans) => Arc::clone(plans.now()),
                    None => Arc::new(Plan::on(&layout, metal(&layout, &touched, old))),
                });
                let grounds = Grounds::of(&layout, &mut plans, spare, &stock);
                (Arc::new(plans), Arc::new(grounds))
            }
        };
        let sites = match old.filter(|_| !touched.plans && !touched.rolling) {
            Some(old) if !touched.values && !touched.settings => Arc::clone(&old.sites),
            same => {
                let same = match same {
                    None => Old::None,
                    Some(old) if touched.values => Old::Places(&old.sites),
                    Some(old) => Old::Wiring(&old.sites),
                };
                Arc::new(gather::sites(&layout, &plans, &grounds, memo, same))
            }
        };
        let views = views(&layout, (&plans, &grounds, &sites), memo, (&touched, old));
        let memo = memo.clone();
        Study { layout, memo, stock, plans, grounds, sites, views }
    }

    /// The layout.
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// One view per set of positions that matters anywhere; the first has every selector as it stands now.
    pub fn views(&self) -> Vec<View<'_>> {
        self.views.iter().map(|data| self.view(Arc::clone(data))).collect()
    }

    /// The view with every selector as it stands now.
    pub fn now(&self) -> View<'_> {
        self.view(Arc::clone(&self.views[0]))
    }

    fn view(&self, data: Arc<ViewData>) -> View<'_> {
        View { layout: &self.layout, study: self, data }
    }

    /// A rough measure of what it takes to check the layout anew: the sizes of its cases, and the pairs of drivers that
    /// share a block.
    pub fn load(&self) -> usize {
        let cases = self.views.iter().map(|view| {
            let known = view.known.values().chain(view.trains.values());
            let straddles = view.straddles.iter().flat_map(|straddle| &straddle.known);
            known.chain(straddles).map(|known| known.case.size()).sum::<usize>()
        });
        let pairs = self.views[0].plan.blocks.iter().map(|b| b.drivers.len().pow(2) * 400);
        cases.sum::<usize>() + pairs.sum::<usize>()
    }

    /// Selectors that were not tried, because there are too many, by cut.
    pub fn held(&self) -> &BTreeMap<CutId, Vec<SelectorId>> {
        &self.grounds.held
    }

    /// Sets of positions in which a cut is not judged, because a driver that matters there is shorted with no train.
    pub fn shorted(&self) -> &BTreeMap<CutId, Vec<Vec<SelectorAt>>> {
        &self.grounds.shorted
    }
}

impl PartialEq for Study {
    fn eq(&self, other: &Self) -> bool {
        (&self.layout, &self.views, self.held(), self.shorted())
            == (&other.layout, &other.views, other.held(), other.shorted())
    }
}

/// The metal of a layout: that of an older study if the edit leaves it alone.
fn metal(layout: &Layout, touched: &Touched, old: Option<&Study>) -> Arc<Metal> {
    match old.filter(|_| !touched.metal) {
        Some(old) => Arc::clone(&old.plans.now().metal),
        None => Arc::new(Metal::derive(layout)),
    }
}

/// What the views show.
fn views(
    layout: &Layout,
    (plans, grounds, sites): (&Plans, &Grounds, &[Site]),
    memo: &Memo,
    (touched, old): (&Touched, Option<&Study>),
) -> Vec<Arc<ViewData>> {
    let now = plans.now();
    let old = |keep: bool| old.filter(|_| keep).and_then(|old| old.views.first());
    let lengths = match old(!touched.plans) {
        Some(old) => Arc::clone(&old.lengths),
        None => Arc::new(Lengths::of(layout, now)),
    };
    let loops = match old(!touched.plans && !touched.rolling && !touched.values) {
        Some(old) => Arc::clone(&old.loops),
        None => Arc::new(Loops::derive(layout, now)),
    };
    let mut coins = match old(!touched.plans && !touched.values) {
        Some(old) if !touched.settings && !touched.rolling => old.coins.clone(),
        Some(old) => Coin::as_set_in(&old.coins, layout, now, memo),
        None => Coin::all(layout, now, &lengths, memo),
    };
    let known = gather::known(plans, grounds, sites);
    let all = plans.all().zip(known).enumerate();
    all.map(|(at, (plan, KnownIn { cuts: [known, trains], straddles }))| {
        let data = ViewData {
            known,
            trains,
            straddles,
            loops: Arc::clone(&loops),
            ..ViewData::bare(Arc::clone(plan))
        };
        Arc::new(if at > 0 {
            data
        } else {
            let (lengths, coins) = (Arc::clone(&lengths), std::mem::take(&mut coins));
            ViewData { is_now: true, lengths, coins, ..data }
        })
    })
    .collect()
}

impl ViewData {
    /// A plan without any solved place.
    fn bare(plan: Arc<Plan>) -> ViewData {
        ViewData {
            plan,
            known: BTreeMap::new(),
            trains: BTreeMap::new(),
            straddles: Vec::new(),
            is_now: false,
            lengths: Arc::default(),
            coins: Vec::new(),
            loops: Arc::default(),
            shared: Shared::default(),
        }
    }
}

impl Deref for View<'_> {
    type Target = ViewData;

    fn deref(&self) -> &ViewData {
        &self.data
    }
}

impl<'a> View<'a> {
    /// The view of other positions of the selectors: a plan without any solved place.
    pub fn at(&self, positions: Positions) -> View<'a> {
        let is_now = positions.is_now();
        let plan = self.study.plans.at(self.layout, positions);
        let data = ViewData { is_now, ..ViewData::bare(plan) };
        self.study.view(Arc::new(data))
    }

    /// The result of a case, from the memo where it is remembered.
    pub fn solved(&self, case: &Case) -> Arc<CutResult> {
        self.study.memo.place(case)
    }

    /// The result of a coin, from the memo where it is remembered.
    pub fn coin(&self, case: &CoinCase) -> Arc<CoinResult> {
        self.study.memo.coin(case)
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
