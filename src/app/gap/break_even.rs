//! From which throttle on a trip acts where something stands.

use std::collections::BTreeMap;
use std::rc::Rc;

use eframe::egui::{Label, Ui};

use super::super::App;
use super::super::theme::{SPACE, TIGHT, heading, small};
use super::commands::Command;
use super::model::Model;
use super::scene::Scene;
use crate::drive::SetWord;
use crate::layout::DriverId;
use crate::study::SetState;
use crate::study::scope::{TripsFrom, trips_by_throttle};

/// Results, with the scene that they are for.
pub struct BreakEven {
    about: Rc<Scene>,
    drivers: Vec<(DriverId, SetWord, Vec<TripsFrom>)>,
}

/// Works out for each driver that drives at the gap at which throttles a trip acts.
pub(super) fn work_out(app: &App) -> Option<BreakEven> {
    let scene = app.gap.scene.as_ref()?;
    let stand = scene.gap.stand(&scene.stance, false)?;
    let (gap, who) = (&scene.gap, scene.stance.who);
    let (case, names) = (gap.case(who), &gap.around(who).names);
    let mut drivers: Vec<(DriverId, SetWord, Vec<TripsFrom>)> = Vec::new();
    for &at in case.meeting.iter().flatten() {
        let Some(id) = names.drivers.get(at).copied() else { continue };
        let (word, _) =
            scene.settings.get(&id).map_or(case.controls[at].now, |set| (set.state, set.throttle));
        let known = drivers.iter().any(|(known, ..)| *known == id);
        if known || !matches!(word, SetWord::Forward | SetWord::Reverse) {
            continue;
        }
        let mut settings: BTreeMap<DriverId, SetState> = scene.settings.clone();
        let stretches = trips_by_throttle(case, &stand, |throttle| {
            settings.insert(id, SetState { state: word, throttle });
            let mut scenario = gap.scenario(who, &settings, &[]);
            scenario.acted.clone_from(&scene.scenario.acted);
            gap.awake(who, scenario, &stand).0
        });
        drivers.push((id, word, stretches));
    }
    Some(BreakEven { about: Rc::clone(scene), drivers })
}

/// The stretches of a driver in words.
fn stretches_words(stretches: &[TripsFrom]) -> String {
    let percent = |throttle: f64| format!("{:.0} %", throttle * 100.0);
    let stretch = |trips: &TripsFrom| match (trips.from, trips.to) {
        (from, to) if from == to => format!("at {}", percent(from)),
        (from, to) if from <= 0.0 && to >= 1.0 => "at every throttle".to_owned(),
        (from, to) if to >= 1.0 => format!("from {} on", percent(from)),
        (from, to) if from <= 0.0 => format!("up to {}", percent(to)),
        (from, to) => format!("from {} to {}", percent(from), percent(to)),
    };
    match stretches {
        [] => "at no throttle".to_owned(),
        some => some.iter().map(stretch).collect::<Vec<_>>().join(" and "),
    }
}

/// The button that works it out, and its result.
pub(super) fn break_even_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    let Some(scene) = model.scene else { return };
    ui.add_space(SPACE);
    ui.label(heading("From which throttle it trips"));
    if scene.judged.is_none() {
        ui.label(small(ui, "Standing there now it joins nothing. Move it over the gap first."));
        return;
    }
    let known = model.view.break_even.as_ref().filter(|known| std::ptr::eq(&*known.about, scene));
    let Some(known) = known else {
        let button = ui.button("Work it out").on_hover_text(
            "Tries every throttle of each driver in steps of 1 %, the other one as it is set",
        );
        if button.clicked() {
            commands.push(Command::BreakEven);
        }
        return;
    };
    if known.drivers.is_empty() {
        ui.label(small(ui, "No driver here is set to forward or reverse."));
    }
    for (id, word, stretches) in &known.drivers {
        let words = format!(
            "{}, {}: a trip acts {}.",
            model.driver(*id),
            word.word(),
            stretches_words(stretches)
        );
        ui.add(Label::new(words).wrap());
    }
    ui.add_space(TIGHT);
    ui.add(Label::new(small(ui, "Where it stands now, the other driver as it is set.")).wrap());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_read_well() {
        let words = |pairs: &[(f64, f64)]| {
            let all: Vec<TripsFrom> =
                pairs.iter().map(|&(from, to)| TripsFrom { from, to }).collect();
            stretches_words(&all)
        };
        assert_eq!(words(&[]), "at no throttle");
        assert_eq!(words(&[(0.28, 1.0)]), "from 28 % on");
        assert_eq!(words(&[(0.0, 0.2), (0.5, 0.5)]), "up to 20 % and at 50 %");
        assert_eq!(words(&[(0.0, 1.0)]), "at every throttle");
    }
}
