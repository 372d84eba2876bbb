//! Words for one wheel on two rails of special work.

use super::crossing_words::verb;
use super::narrow::{Evidence, Narrow};
use crate::findings::units::{amps, percent};
use crate::findings::words::spaced;
use crate::findings::{Caution, Text, Words};

/// Words of both kinds.
pub fn words(e: &Evidence, w: &Words) -> Text {
    let Evidence { situation, narrow, .. } = e;
    let vehicle = w.vehicle(situation.vehicle);
    let id = w.finding.special();
    let work = id.map_or_else(String::new, |id| w.special_name(id));
    let [apart, needs] = [e.apart_mm, e.needs_mm].map(|mm| w.units.mm(mm));
    let (what, cure, why) = match narrow {
        Narrow::BeyondFrog => (
            format!("a wheel of {vehicle} bridges the rails beyond the frog"),
            "move the gap to where they are wider apart",
            format!(
                "The two inner rails are {apart} apart where they begin beyond the frog. A wheel is {needs} wide, so its tread \
                 lies on both."
            ),
        ),
        Narrow::BeforeFrog => (
            format!("a wheel of {vehicle} touches both rails before the frog"),
            "move the gap to where they are wider apart",
            format!(
                "The two rails that run into the frog are {apart} apart where they end. The back of a wheel needs {needs}."
            ),
        ),
        Narrow::OpenPoint => (
            format!("the back of a wheel of {vehicle} touches the open point"),
            "let the point open wider",
            format!(
                "The open point stands {apart} off its stock rail, and the back of a wheel needs {needs}. It touches the point \
                 while its tread lies on the stock rail."
            ),
        ),
    };
    let (advice, cautions) = match narrow {
        Narrow::OpenPoint => (
            vec![
                format!("Set the throw so that the open point stands off by more than {needs}."),
                "Gauge the backs of the wheels: a wheelset that is too narrow touches all the same.".into(),
                "Or bond points and closure rails to their own stock rails, and cut off the frog.".into(),
            ],
            vec![Caution::Saw, Caution::Solder],
        ),
        Narrow::BeyondFrog | Narrow::BeforeFrog => (
            vec![
                format!("Measure between the two rails at the gap; move it to where they are more than {needs} apart."),
                "Or coat the heads of the two rails with lacquer as far as they are nearer than that.".into(),
            ],
            vec![Caution::Saw],
        ),
    };
    Text {
        says: format!(
            "{work}: {what} and {} at {}; {cure}",
            verb(situation.verdict),
            amps(situation.peak_a())
        ),
        why,
        more: spaced(&[&stretch(e, w), &w.trips(situation)]),
        advice,
        cautions,
    }
}

/// For how long and with which settings.
fn stretch(e: &Evidence, w: &Words) -> String {
    let id = w.finding.special();
    let special = id.and_then(|id| w.layout.specials.get(&id));
    let with = if special.is_some_and(|special| special.work.positions() > 1) {
        let as_now = if e.now { " now" } else { "" };
        format!(", with {}{as_now}", w.positions(w.finding.selectors()))
    } else {
        String::new()
    };
    format!(
        "It rolls {} like that{with}. Computed with {}: {} of the time.",
        w.units.mm(e.stretch_mm),
        w.settings(&e.situation),
        percent(e.situation.share)
    )
}
