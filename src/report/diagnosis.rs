//! A diagnosis as text.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::text::{item, wrap};
use crate::diagnose::{
    Class, Diagnosis, Hunt, Next, Observation, Question, Standing, Status, Suspect, answer_words,
    question_words,
};
use crate::findings::Caution;
use crate::job::Names;
use crate::layout::shown;

/// At most so many classes are told.
const MOST_TOLD: usize = 6;
/// A class with less than this is not told, nor a fault of it.
const LEAST_TOLD: f64 = 0.01;

/// A diagnosis for a person.
pub fn diagnosis_text(
    (file, layout): (&str, &crate::layout::Layout),
    hunt: &Hunt,
    observations: &[Observation],
    diagnosis: &Diagnosis,
) -> String {
    let names = hunt.names();
    let mut out = String::new();
    let name = if layout.name.is_empty() { file } else { &layout.name };
    // Writing to a String cannot fail.
    let _ = writeln!(out, "{} ({})", shown(name), shown(file));
    let [before, after] = hunt.reach.blocks.each_ref().map(|block| shown(block));
    let gap = names.thing(hunt.reach.cut.into());
    let _ = writeln!(out, "At {gap}, between {before} and {after}.");
    if !observations.is_empty() {
        let _ = writeln!(out, "\nSeen:");
    }
    for (at, observed) in observations.iter().enumerate() {
        let line = format!("{}. {}", at + 1, observation_words(names, hunt, observed));
        for line in wrap(&shown(&line), 96) {
            let _ = writeln!(out, "  {line}");
        }
    }
    if hunt.reach.left_out > 0 {
        let _ = writeln!(
            out,
            "{} feeds and drivers farther away are not thought of.",
            hunt.reach.left_out
        );
    }
    let _ = writeln!(out);
    for line in wrap(&standing_words(diagnosis), 96) {
        let _ = writeln!(out, "{line}");
    }
    let _ = writeln!(out, "\nSuspects:");
    for class in told(diagnosis) {
        let _ = writeln!(out, "  {:>3}  {}", whole_percent(class.share), shown(&class.repair.0));
        for suspect in class.suspects.iter().take(3).filter(|s| s.share >= LEAST_TOLD / 2.0) {
            let why = match observations {
                [] => String::new(),
                _ => format!(": {}", status_words(suspect)),
            };
            item(
                &mut out,
                &format!("{}{why} [{}]", suspect.fault.says(names), suspect.fault.key()),
            );
        }
    }
    let _ = writeln!(out, "  {:>3}  Something else.", whole_percent(diagnosis.outside));
    for line in alike_words(diagnosis) {
        item(&mut out, &line);
    }
    next(&mut out, names, hunt, diagnosis);
    out
}

fn next(out: &mut String, names: Names, hunt: &Hunt, diagnosis: &Diagnosis) {
    if diagnosis.next.is_empty() {
        return;
    }
    let _ = writeln!(out, "\nNext, the best for its time first:");
    let mut cautions: BTreeSet<Caution> = BTreeSet::new();
    for (at, test) in diagnosis.next.iter().enumerate() {
        let line = format!(
            "{}. {} ({} min). {}",
            at + 1,
            question_words(names, hunt, &test.question),
            test.minutes,
            tells_words(names, test)
        );
        for line in wrap(&shown(&line), 96) {
            let _ = writeln!(out, "  {line}");
        }
        cautions.extend(cautions_of(&test.question));
    }
    let _ = writeln!(out, "\nTake care:");
    for caution in cautions {
        item(out, caution.line());
    }
}

/// Cautions for a test.
pub fn cautions_of(question: &Question) -> Vec<Caution> {
    match question {
        Question::Trial { .. } | Question::WhichWay { .. } => vec![Caution::Guard],
        Question::Volts { .. } | Question::OhmsAtZero { .. } => vec![Caution::Measure],
        Question::OhmsLifted { .. } | Question::Look(_) | Question::LookAt(_) => {
            vec![Caution::Rewire]
        }
        Question::Negatives(..) => vec![Caution::Rewire, Caution::Mains],
    }
}

/// "If nothing happens: set d2 to coast."
pub fn tells_words(names: Names, test: &Next) -> String {
    let tells = test.tells.iter().take(2).map(|(answer, repair)| {
        format!("If {}, the first suspect is: {}", answer_words(names, answer), repair.0)
    });
    tells.collect::<Vec<_>>().join(" ")
}

/// "Run the diesel over Home gap into Mill, with …: it trips, 5 of 5".
pub fn observation_words(names: Names, hunt: &Hunt, observed: &Observation) -> String {
    let count = match (observed.times, observed.of) {
        (1, 1) => String::new(),
        (times, of) => format!(", {times} of {of}"),
    };
    let question = question_words(names, hunt, &observed.question);
    format!("{question}: {}{count}", answer_words(names, &observed.answer))
}

/// The state of a hunt in one sentence.
pub fn standing_words(diagnosis: &Diagnosis) -> String {
    let best = diagnosis.classes.first();
    let repair = best.map_or("", |class| class.repair.0.as_str());
    let share = best.map_or(0.0, |class| class.share);
    let mut line = match diagnosis.standing {
        Standing::Sure => format!("All but sure ({}). {repair}", whole_percent(share)),
        Standing::Open => {
            format!("Not sure yet. First suspect ({}): {repair}", whole_percent(share))
        }
        Standing::NothingTells => format!(
            "No further test at this gap is worth its time. First suspect ({}): {repair}",
            whole_percent(share)
        ),
        Standing::NothingExplains => {
            "None of the faults that this program knows explains all of it.".to_owned()
        }
    };
    if diagnosis.contradicts {
        line.push_str(
            " Two of the observations contradict each other: find out what differed between them.",
        );
    }
    line
}

/// A line for each set of classes that no test tells apart.
pub fn alike_words(diagnosis: &Diagnosis) -> Vec<String> {
    let told: Vec<&Class> = told(diagnosis).collect();
    let line = |set: &Vec<usize>| {
        let of = set.iter().filter_map(|&at| told.get(at));
        let repairs: Vec<&str> = of.map(|class| class.repair.0.as_str()).collect();
        (repairs.len() > 1)
            .then(|| format!("Nothing but a look tells these apart: {}", repairs.join(" Or: ")))
    };
    diagnosis.alike.iter().filter_map(line).collect()
}

/// How a suspect stands to what was seen.
pub fn status_words(suspect: &Suspect) -> String {
    match suspect.status {
        Status::Explains => "explains all that was seen".to_owned(),
        Status::NotRuledOut => "not ruled out".to_owned(),
        Status::RuledOut => {
            let numbers: Vec<String> =
                suspect.against.iter().map(|at| (at + 1).to_string()).collect();
            format!("unless observation {} is mistaken", numbers.join(", "))
        }
    }
}

/// The classes that are worth telling.
pub fn told(diagnosis: &Diagnosis) -> impl Iterator<Item = &Class> {
    // They come by their shares, so that their numbers are those in the diagnosis.
    let few = diagnosis.classes.iter().take(MOST_TOLD);
    few.enumerate().filter(|(at, c)| *at == 0 || c.share >= LEAST_TOLD).map(|(_, c)| c)
}

/// "7%", "<1%".
pub fn whole_percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent > 0.0 && percent < 1.0 { "<1%".into() } else { format!("{percent:.0}%") }
}
