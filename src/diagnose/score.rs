//! Probabilities of faults after some observations.

use super::catalogue::Past;
use super::question::{Answer, Observation, Question};

/// Share of observations that are mistaken, whatever is true (common practice, no source).
pub const MISTAKEN: f64 = 0.05;
/// Repeats share their errors: more than so many count as so many.
const MOST_REPEATS: u32 = 5;
/// Share of everything that is no fault of the catalogue.
const OUTSIDE: f64 = 0.03;
/// Below this probability an observation rules a fault out.
pub const RULES_OUT: f64 = 0.05;
/// From this probability on a fault explains an observation.
pub const EXPLAINS: f64 = 0.3;

/// Fit of a fault to the observations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// It makes each observation likely.
    Explains,
    /// No observation speaks clearly against it.
    NotRuledOut,
    /// Some observation does.
    RuledOut,
}

/// The probability that a fault gives to what was observed; `None` where nothing is known of it.
pub fn probability(dist: &[(Answer, f64)], answer: &Answer) -> Option<f64> {
    let fits = dist.iter().filter(|(of, _)| answer.fits(of));
    (!dist.is_empty()).then(|| fits.map(|(_, share)| share).sum::<f64>().clamp(0.0, 1.0))
}

/// The probability that something goes over and nothing trips or stops it.
pub fn quiet(dist: &[(Answer, f64)]) -> Option<f64> {
    let of = |answer| probability(dist, answer);
    Some((of(&Answer::Nothing)? + of(&Answer::ChangesSpeed)?).min(1.0))
}

/// Fit of a fault to one observation: the probability of each time, and a factor that counts once for all of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    each: f64,
    once: f64,
}

impl Fit {
    /// The fit of an answer. Who is seen to trip, of those that trip, and whether a step of speed is worth a word, are
    /// matters of the eye: they count once.
    pub fn of(dist: &[(Answer, f64)], answer: &Answer) -> Option<Fit> {
        let whole = probability(dist, answer)?;
        let each = match answer {
            Answer::Trips { empty, .. } => {
                probability(dist, &Answer::Trips { guards: Vec::new(), empty: *empty })?
            }
            Answer::Nothing | Answer::ChangesSpeed => quiet(dist)?,
            _ => whole,
        };
        Some(Fit { each, once: if each > 0.0 { whole / each } else { 1.0 } })
    }
}

/// Repeats as they count: times and of how many.
fn counted(observed: &Observation) -> (u32, u32) {
    let of = observed.of.max(observed.times).max(1);
    let counts = of.min(MOST_REPEATS);
    let times = f64::from(observed.times) * f64::from(counts) / f64::from(of);
    // A rare event in many trials is still not none.
    let times = (times.round() as u32).clamp(u32::from(observed.times > 0), counts);
    (if observed.times == of { counts } else { times.min(counts.saturating_sub(1)) }, counts)
}

/// The probability of every count between never and always.
fn sometimes(p: f64, of: u32) -> f64 {
    1.0 - p.powi(of as i32) - (1.0 - p).powi(of as i32)
}

/// Likelihood of an observation at a probability of its answer; without one, that of what nobody thought of.
pub fn likelihood(observed: &Observation, fit: Option<Fit>) -> f64 {
    let (times, of) = counted(observed);
    let any = match of {
        1 => 1.0 / observed.question.answers(),
        of => 1.0 / f64::from(of + 1),
    };
    let Some(Fit { each: p, once }) = fit else { return any };
    let chosen = match of {
        1 if times == 1 => p,
        1 => 1.0 - p,
        // "Sometimes" is every count between never and always.
        of if times > 0 && times < of => sometimes(p * once, of),
        of if times == of => p.powi(of as i32),
        of => (1.0 - p).powi(of as i32),
    };
    // What is seen only sometimes is not a matter of one eye.
    let once = if times == of { once } else { 1.0 };
    (1.0 - MISTAKEN) * chosen.max(0.0) * once + MISTAKEN * any
}

/// The fit of a fault to all observations, and the numbers of those that speak against it.
pub fn status(observations: &[Observation], of: &[Option<Fit>]) -> (Status, Vec<usize>) {
    let chance = |at: usize| {
        let (times, counts) = counted(&observations[at]);
        of[at].map(|Fit { each: p, once }| match (times, counts) {
            (times, counts) if times == counts => p * once,
            (0, _) => 1.0 - p,
            (_, counts) => sometimes(p * once, counts),
        })
    };
    let chances: Vec<Option<f64>> = (0..observations.len()).map(chance).collect();
    let against = |p: &Option<f64>| p.is_some_and(|p| p < RULES_OUT);
    let numbers: Vec<usize> = (0..chances.len()).filter(|&at| against(&chances[at])).collect();
    let status = if !numbers.is_empty() {
        Status::RuledOut
    } else if chances.iter().all(|p| p.is_some_and(|p| p >= EXPLAINS)) {
        Status::Explains
    } else {
        Status::NotRuledOut
    };
    (status, numbers)
}

/// Shares of all faults and, last, of what is outside the catalogue.
pub fn shares(
    weights: &[f64],
    observations: &[Observation],
    probabilities: &[Vec<Option<Fit>>],
) -> Vec<f64> {
    let sum: f64 = weights.iter().sum();
    let outside = sum * OUTSIDE / (1.0 - OUTSIDE);
    let log = |weight: f64, of: &dyn Fn(usize) -> Option<Fit>| -> f64 {
        let seen = observations.iter().enumerate();
        weight.ln() + seen.map(|(at, o)| likelihood(o, of(at)).ln()).sum::<f64>()
    };
    let mut logs: Vec<f64> =
        weights.iter().zip(probabilities).map(|(weight, of)| log(*weight, &|at| of[at])).collect();
    logs.push(log(outside, &|_| None));
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let parts: Vec<f64> = logs.iter().map(|l| (l - most).exp()).collect();
    let all: f64 = parts.iter().sum();
    parts.iter().map(|part| part / all).collect()
}

/// The past that a contradiction speaks for: one question with two certain answers means that something drifts.
pub fn contradicts(observations: &[Observation]) -> bool {
    let certain = |o: &Observation| o.of > 1 && o.times == o.of;
    let same = |a: &Question, b: &Question| a == b;
    observations.iter().enumerate().any(|(at, a)| {
        certain(a)
            && observations[at + 1..]
                .iter()
                .any(|b| certain(b) && same(&a.question, &b.question) && !a.answer.fits(&b.answer))
    })
}

/// Entropy, bit.
pub fn entropy(shares: &[f64]) -> f64 {
    shares.iter().filter(|p| **p > 0.0).map(|p| -p * p.log2()).sum()
}

/// The past as the observations leave it.
pub fn past_of(stated: Past, observations: &[Observation]) -> Past {
    if contradicts(observations) { Past::Worked } else { stated }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnose::fault::Repair;

    fn all(p: f64) -> Option<Fit> {
        Some(Fit { each: p, once: 1.0 })
    }

    fn observed(times: u32, of: u32) -> Observation {
        let question = Question::Look(Repair(String::new()));
        Observation { question, answer: Answer::Seen(true), times, of }
    }

    #[test]
    fn one_observation_moves_the_odds_by_a_bounded_factor() {
        let always = observed(5, 5);
        let (sure, never) = (likelihood(&always, all(1.0)), likelihood(&always, all(0.0)));
        assert!((sure / never - (0.95 + 0.05 / 6.0) / (0.05 / 6.0)).abs() < 1e-9);
        assert_eq!(likelihood(&always, None), 1.0 / 6.0);
    }

    #[test]
    fn the_likelihoods_of_always_sometimes_and_never_sum_to_one_where_nothing_is_mistaken() {
        let sum: f64 = [(5, 5), (2, 5), (0, 5)]
            .map(|(times, of)| {
                let l = likelihood(&observed(times, of), all(0.3));
                (l - MISTAKEN / 6.0) / (1.0 - MISTAKEN)
            })
            .iter()
            .sum();
        assert!((sum - 1.0).abs() < 1e-12, "{sum}");
    }

    #[test]
    fn many_repeats_count_as_five() {
        let of = |times, of| likelihood(&observed(times, of), all(0.9));
        assert_eq!(of(50, 50), of(5, 5));
        assert_eq!(of(1, 50), of(1, 5));
        assert_eq!(of(49, 50), of(4, 5));
    }
}
