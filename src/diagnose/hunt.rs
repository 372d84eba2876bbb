//! A hunt for the fault at one gap: suspects, what was seen, and what to try next.

use std::sync::Mutex;

use rayon::prelude::*;

use super::Cannot;
use super::catalogue::{Past, faults, minutes, weight};
use super::fault::{Fault, Repair};
use super::outcome::{Dist, Supposed};
use super::question::{Answer, Observation, Question, on_offer};
use super::reach::Reach;
use super::score::{self, EXPLAINS, Fit, Status, probability};
use crate::job::Names;
use crate::layout::{CutId, Layout, apply};
use crate::rails::Plan;

/// A class with at least this share is sure.
const SURE: f64 = 0.9;
/// A test that tells less than this is not worth its time, bit per minute.
const LEAST_RATE: f64 = 0.01;
/// Least share that a sure class keeps without any one of the observations: without one that was made once, and without
/// one that was repeated, which is less often a mistake.
const STILL: (f64, f64) = (0.5, 1.0 / 3.0);
/// Beyond this share the cause is not in the catalogue.
const HALF: f64 = 0.5;
/// Number of tests that are proposed.
const MOST_NEXT: usize = 3;
/// So many answers to questions that are not on offer are remembered of each fault.
const MOST_ASKED: usize = 200;
/// So many answers of a test are told.
const MOST_TOLD: usize = 5;
/// Two classes whose answers differ by less than this everywhere cannot be told apart.
const ALIKE: f64 = 0.02;
/// A class with less than this is not looked at for being alike.
const MATTERS: f64 = 0.01;

/// All that is supposed at a gap, with the answers that each fault gives to everything on offer.
pub struct Hunt {
    /// The gap and what is around it.
    pub reach: Reach,
    supposed: Vec<Supposed>,
    offer: Vec<Question>,
    table: Vec<Vec<Dist>>,
    /// True if the layout as drawn shows something at the gap.
    drawn_shows: bool,
    /// Answers to questions that are not on offer, of each fault.
    asked: Vec<Mutex<Vec<(Question, Dist)>>>,
}

/// A fault that may be the cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspect {
    /// The fault.
    pub fault: Fault,
    /// Probability, 0 to 1.
    pub share: f64,
    /// Fit to the observations.
    pub status: Status,
    /// Numbers of the observations that speak against it, from 0.
    pub against: Vec<usize>,
}

/// Faults that one repair ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    /// The repair.
    pub repair: Repair,
    /// Probability, 0 to 1.
    pub share: f64,
    /// Its faults, the likeliest first.
    pub suspects: Vec<Suspect>,
}

/// A test that is worth its time.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// What to do.
    pub question: Question,
    /// Expected gain of information, bit.
    pub bits: f64,
    /// Duration, min.
    pub minutes: f64,
    /// The likeliest answers and the class that each speaks for.
    pub tells: Vec<(Answer, Repair)>,
}

/// State of a hunt: whether another test is worth its time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// A test is worth its time.
    Open,
    /// One class is all but sure.
    Sure,
    /// No test on offer tells more.
    NothingTells,
    /// Nothing in the catalogue explains what was seen.
    NothingExplains,
}

/// Conclusions from some observations.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnosis {
    /// Classes, the likeliest first.
    pub classes: Vec<Class>,
    /// Probability that the cause is outside the catalogue, 0 to 1.
    pub outside: f64,
    /// Tests, the best gain for its time first.
    pub next: Vec<Next>,
    /// State of a hunt: whether another test is worth its time.
    pub standing: Standing,
    /// Sets of classes, by their numbers, that no trial and no reading on offer separates.
    pub alike: Vec<Vec<usize>>,
    /// True if one question has two certain answers: something differed between them.
    pub contradicts: bool,
}

impl Hunt {
    /// Supposes every fault of the catalogue at a gap, and works out what each would show.
    ///
    /// # Errors
    /// The gap cannot be looked at; with what to do.
    pub fn of(layout: &Layout, cut: CutId) -> Result<Hunt, Cannot> {
        let plan = Plan::derive(layout);
        let reach = Reach::of(layout, &plan, cut)?;
        let names = Names { layout, plan: &plan };
        let thought_of = faults(layout, &reach);
        let mut supposed: Vec<Supposed> = thought_of
            .into_par_iter()
            .filter_map(|fault| {
                let mut with = layout.clone();
                for edit in fault.edits(layout)? {
                    apply(&mut with, edit).ok()?;
                }
                if with == *layout && fault != Fault::AsDrawn {
                    return None;
                }
                let plan = Plan::derive(&with);
                let repair = fault.repair(names);
                Some(Supposed { fault, repair, layout: with, plan })
            })
            .collect();
        let all: Vec<Fault> = supposed.iter().map(|s| s.fault.clone()).collect();
        let offer = on_offer(layout, &plan, &reach, &all);
        let of = |supposed: &Supposed| -> Vec<Dist> {
            offer.iter().map(|question| supposed.answers(&reach, question)).collect()
        };
        let table: Vec<Vec<Dist>> = supposed.par_iter().map(of).collect();
        let shows = |(question, dist): (&Question, &Dist)| {
            let quiet = score::quiet(dist);
            matches!(question, Question::Trial { .. }) && quiet.is_some_and(|p| p < 1.0 - EXPLAINS)
        };
        let drawn_shows = table.first().is_some_and(|row| offer.iter().zip(row).any(shows));
        if let Some(drawn) = supposed.first_mut().filter(|_| !drawn_shows) {
            drawn.repair = Repair("Nothing is wrong at this gap.".into());
        }
        let asked = supposed.iter().map(|_| Mutex::default()).collect();
        Ok(Hunt { reach, supposed, offer, table, drawn_shows, asked })
    }

    /// True if the layout as drawn shows something at the gap.
    pub fn shows_as_drawn(&self) -> bool {
        self.drawn_shows
    }

    /// The names of the things of the layout as drawn.
    pub fn names(&self) -> Names<'_> {
        // The layout as drawn is supposed first.
        let Supposed { layout, plan, .. } = &self.supposed[0];
        Names { layout, plan }
    }

    /// Everything that is supposed, the layout as drawn first.
    pub fn supposed(&self) -> &[Supposed] {
        &self.supposed
    }

    /// Everything that can be tried.
    pub fn offer(&self) -> &[Question] {
        &self.offer
    }

    /// The answers to a question with a fault, by its number in [`Hunt::supposed`].
    pub fn answers(&self, fault: usize, question: &Question) -> Dist {
        if let Some(at) = self.offer.iter().position(|known| known == question) {
            return self.table[fault][at].clone();
        }
        let Ok(mut asked) = self.asked[fault].lock() else {
            return self.supposed[fault].answers(&self.reach, question);
        };
        if let Some((_, dist)) = asked.iter().find(|(of, _)| of == question) {
            return dist.clone();
        }
        let dist = self.supposed[fault].answers(&self.reach, question);
        if asked.len() >= MOST_ASKED {
            asked.clear();
        }
        asked.push((question.clone(), dist.clone()));
        dist
    }

    /// Conclusions from some observations.
    pub fn after(&self, past: Past, observations: &[Observation]) -> Diagnosis {
        let past = score::past_of(past, observations);
        let fits: Vec<Vec<Option<Fit>>> = (0..self.supposed.len())
            .into_par_iter()
            .map(|at| {
                let of = |o: &Observation| Fit::of(&self.answers(at, &o.question), &o.answer);
                observations.iter().map(of).collect()
            })
            .collect();
        let weights: Vec<f64> = (self.supposed.iter().enumerate())
            .map(|(at, s)| match self.shows(at, observations) {
                true => weight(&s.fault, past, self.drawn_shows),
                false => 0.0,
            })
            .collect();
        let shares = score::shares(&weights, observations, &fits);
        let classes = self.classes(&shares, observations, &fits);
        let outside = shares.last().copied().unwrap_or(1.0);
        let next = self.next(&shares, &classes, observations);
        let best = classes.first().map_or(0.0, |class| class.share);
        // One mistaken observation is more likely than something that nobody thought of.
        let explains = |class: &Class| {
            let but_for_one = |s: &Suspect| s.against.len() <= 1;
            class.suspects.iter().any(|s| s.status != Status::RuledOut)
                || class.share > HALF && class.suspects.first().is_some_and(but_for_one)
        };
        let standing = if observations.is_empty() {
            Standing::Open
        } else if outside > HALF || !classes.iter().any(explains) {
            Standing::NothingExplains
        } else if best >= SURE && self.stands(&weights, observations, &fits, &classes[0]) {
            Standing::Sure
        } else if next.is_empty() {
            Standing::NothingTells
        } else {
            Standing::Open
        };
        let alike = self.alike(&classes);
        let contradicts = score::contradicts(observations);
        Diagnosis { classes, outside, next, standing, alike, contradicts }
    }

    /// True if a class is still more likely than not without any one of the observations: one mistake makes nobody sure.
    fn stands(
        &self,
        weights: &[f64],
        observations: &[Observation],
        fits: &[Vec<Option<Fit>>],
        class: &Class,
    ) -> bool {
        let without = |at: usize| {
            let seen: Vec<Observation> = observations
                .iter()
                .enumerate()
                .filter(|(n, _)| *n != at)
                .map(|(_, o)| o.clone())
                .collect();
            let of: Vec<Vec<Option<Fit>>> = fits
                .iter()
                .map(|row| {
                    row.iter().enumerate().filter(|(n, _)| *n != at).map(|(_, p)| *p).collect()
                })
                .collect();
            let shares = score::shares(weights, &seen, &of);
            let of_class =
                self.supposed.iter().zip(&shares).filter(|(s, _)| s.repair == class.repair);
            of_class.map(|(_, share)| share).sum::<f64>()
        };
        let least = |of: &Observation| if of.of > 1 { STILL.1 } else { STILL.0 };
        observations.iter().enumerate().all(|(at, of)| without(at) >= least(of))
    }

    /// True if a fault shows in anything on offer or observed: what shows nowhere at this gap explains nothing here.
    fn shows(&self, fault: usize, observations: &[Observation]) -> bool {
        if self.supposed[fault].fault == Fault::AsDrawn {
            return true;
        }
        let differs = |a: &Dist, b: &Dist| apart(a, b) >= ALIKE;
        let offered = self.measured().any(|q| differs(&self.table[fault][q], &self.table[0][q]));
        offered
            || observations.iter().any(|o| {
                let is_look = matches!(o.question, Question::Look(_) | Question::LookAt(_));
                !is_look
                    && differs(&self.answers(fault, &o.question), &self.answers(0, &o.question))
            })
    }

    /// Numbers of the questions on offer that are not looks.
    fn measured(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.offer.len()).filter(|&at| !matches!(self.offer[at], Question::Look(_)))
    }

    fn classes(
        &self,
        shares: &[f64],
        observations: &[Observation],
        fits: &[Vec<Option<Fit>>],
    ) -> Vec<Class> {
        let mut classes: Vec<Class> = Vec::new();
        for (at, supposed) in self.supposed.iter().enumerate().filter(|(at, _)| shares[*at] > 0.0) {
            let (status, against) = score::status(observations, &fits[at]);
            let fault = supposed.fault.clone();
            let suspect = Suspect { fault, share: shares[at], status, against };
            match classes.iter_mut().find(|class| class.repair == supposed.repair) {
                Some(class) => {
                    class.share += suspect.share;
                    class.suspects.push(suspect);
                }
                None => classes.push(Class {
                    repair: supposed.repair.clone(),
                    share: suspect.share,
                    suspects: vec![suspect],
                }),
            }
        }
        for class in &mut classes {
            class.suspects.sort_by(|a, b| b.share.total_cmp(&a.share));
        }
        classes.sort_by(|a, b| b.share.total_cmp(&a.share));
        classes
    }

    /// The answers of a class to a question on offer, by the shares of its faults.
    fn of_class(&self, shares: &[f64], repair: &Repair, question: usize) -> Dist {
        let mut dist: Dist = Vec::new();
        let mut all = 0.0;
        for (at, supposed) in self.supposed.iter().enumerate() {
            let of = &self.table[at][question];
            if supposed.repair != *repair || of.is_empty() || shares[at] <= 0.0 {
                continue;
            }
            all += shares[at];
            for (answer, p) in of {
                match dist.iter_mut().find(|known| known.0 == *answer) {
                    Some(known) => known.1 += p * shares[at],
                    None => dist.push((answer.clone(), p * shares[at])),
                }
            }
        }
        if all > 0.0 {
            dist.iter_mut().for_each(|known| known.1 /= all);
        }
        dist
    }

    /// The tests that tell most for their time.
    fn next(&self, shares: &[f64], classes: &[Class], observations: &[Observation]) -> Vec<Next> {
        let outside = shares.last().copied().unwrap_or(0.0);
        let mut prior: Vec<f64> = classes.iter().map(|class| class.share).collect();
        prior.push(outside);
        let before = score::entropy(&prior);
        let asked = |question: &Question| observations.iter().any(|o| o.question == *question);
        let mut next: Vec<Next> = (0..self.offer.len())
            .into_par_iter()
            .filter(|&at| !asked(&self.offer[at]))
            .filter_map(|at| {
                let question = &self.offer[at];
                // A look at what is no suspect tells nothing.
                if let Question::Look(repair) = question
                    && !classes.iter().any(|class| class.repair == *repair)
                {
                    return None;
                }
                let minutes = question.minutes(|repair| self.look_minutes(repair));
                let of: Vec<Dist> =
                    classes.iter().map(|c| self.of_class(shares, &c.repair, at)).collect();
                let mut answers: Vec<&Answer> = Vec::new();
                for (answer, _) in of.iter().flatten() {
                    if !answers.contains(&answer) {
                        answers.push(answer);
                    }
                }
                let any = 1.0 / question.answers().max(answers.len() as f64);
                let mut after = 0.0;
                let mut tells: Vec<(f64, Answer, Repair)> = Vec::new();
                for answer in &answers {
                    let mut posterior: Vec<f64> = of
                        .iter()
                        .zip(&prior)
                        .map(|(dist, p)| p * probability(dist, answer).unwrap_or(any))
                        .collect();
                    posterior.push(outside * any);
                    let sum: f64 = posterior.iter().sum();
                    if sum <= 0.0 {
                        continue;
                    }
                    posterior.iter_mut().for_each(|p| *p /= sum);
                    after += sum * score::entropy(&posterior);
                    let by_share = |&a: &usize, &b: &usize| posterior[a].total_cmp(&posterior[b]);
                    let best = (0..classes.len()).max_by(by_share)?;
                    tells.push((sum, (*answer).clone(), classes[best].repair.clone()));
                }
                let bits = (before - after).max(0.0);
                tells.sort_by(|a, b| b.0.total_cmp(&a.0));
                let tells = tells.into_iter().take(MOST_TOLD).map(|(_, a, r)| (a, r)).collect();
                Some(Next { question: question.clone(), bits, minutes, tells })
            })
            .filter(|next| next.bits / next.minutes >= LEAST_RATE)
            .collect();
        next.sort_by(|a, b| (b.bits / b.minutes).total_cmp(&(a.bits / a.minutes)));
        next.truncate(MOST_NEXT);
        next
    }

    fn look_minutes(&self, repair: &Repair) -> f64 {
        let of = self.supposed.iter().filter(|s| s.repair == *repair);
        of.map(|s| minutes(&s.fault)).fold(f64::INFINITY, f64::min).min(30.0)
    }

    /// Sets of classes whose faults answer everything but a look alike.
    fn alike(&self, classes: &[Class]) -> Vec<Vec<usize>> {
        let measured: Vec<usize> = self.measured().collect();
        let best = |class: &Class| {
            let fault = &class.suspects.first()?.fault;
            self.supposed.iter().position(|s| s.fault == *fault)
        };
        let mut sets: Vec<Vec<usize>> = Vec::new();
        for (at, class) in classes.iter().enumerate().filter(|(_, c)| c.share >= MATTERS) {
            let Some(fault) = best(class) else { continue };
            let same = |other: usize| {
                best(&classes[other]).is_some_and(|other| {
                    measured.iter().all(|&question| {
                        apart(&self.table[fault][question], &self.table[other][question]) < ALIKE
                    })
                })
            };
            match sets.iter_mut().find(|set| same(set[0])) {
                Some(set) => set.push(at),
                None => sets.push(vec![at]),
            }
        }
        sets.retain(|set| set.len() > 1);
        sets
    }
}

/// Total variation between two distributions.
fn apart(a: &Dist, b: &Dist) -> f64 {
    let of = |dist: &Dist, answer: &Answer| {
        dist.iter().find(|known| known.0 == *answer).map_or(0.0, |known| known.1)
    };
    let over_a: f64 = a.iter().map(|(answer, p)| (p - of(b, answer)).abs()).sum();
    let only_b = b.iter().filter(|(answer, _)| !a.iter().any(|known| known.0 == *answer));
    (over_a + only_b.map(|(_, p)| p).sum::<f64>()) / 2.0
}
