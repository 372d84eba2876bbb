//! Laws that every kind of drive keeps, and relations between kinds.

#![allow(clippy::unwrap_used)]

use super::*;
use crate::layout::{Layout, SupplyId, defaults, load, save};

fn dcc(station: &str, swapped: bool) -> Drive {
    let (station, skew_s) = (station.into(), 0.0);
    let half_bits = crate::layout::HalfBits::default();
    Drive::DccBooster { station, swapped, skew_s, stretched_zeros: false, half_bits }
}

#[test]
fn schedules_of_every_kind_cover_the_period() {
    for drive in examples() {
        let kind = of(&drive);
        for &word in kind.settings().iter().filter(|word| !word.is_dead()) {
            for level in kind.levels(word).into_iter().chain([0.3]) {
                for beside in [Beside::SameStation, Beside::Other] {
                    let schedule = kind.schedule(word, level, beside);
                    let total: f64 = schedule.parts.iter().map(|part| part.share).sum();
                    assert!((total - 1.0).abs() < 1e-12, "{drive:?} {word:?}");
                    assert!(schedule.parts.iter().all(|part| part.share > 0.0));
                    assert!(schedule.period_s > 0.0 && (0.0..=1.0).contains(&schedule.level));
                }
            }
        }
    }
}

#[test]
fn every_kind_that_feeds_can_drive_and_be_switched_off() {
    for drive in examples() {
        let kind = of(&drive);
        assert!(kind.settings().contains(&SetWord::Off), "{drive:?}");
        assert_eq!(kind.feeds(), kind.settings().iter().any(|word| word.drives()), "{drive:?}");
    }
}

#[test]
fn exactly_the_settings_that_drive_have_a_sign() {
    for drive in examples() {
        let kind = of(&drive);
        for &word in kind.settings() {
            assert_eq!(kind.sign(word).is_some(), word.drives(), "{drive:?} {word:?}");
        }
    }
}

#[test]
fn every_kind_has_a_name_of_its_own() {
    let new = new_drives();
    let names: std::collections::BTreeSet<&str> =
        new.iter().map(|drive| of(drive).name()).collect();
    assert_eq!(names.len(), new.len());
}

/// Gives a field a value that no layout may hold. Returns false if it can hold any value.
fn spoil(value: Value) -> bool {
    match value {
        Value::Clock(clock) => clock.hz = 0.0,
        Value::Ohm(ohm) => ohm.value = -1.0,
        Value::Name(name) => name.clear(),
        Value::Number(number, range) => *number = 2.0 * range.to,
        Value::Optional { number, range, .. } => *number = Some(2.0 * range.to),
        Value::Idle(_) | Value::Tick(_) => return false,
    }
    true
}

#[test]
fn a_value_out_of_range_is_refused_at_its_own_field() {
    for drive in examples() {
        let (mut supply, mut layout) = (defaults::supply(), Layout::default());
        supply.split = of(&drive).output().needs_midpoint();
        layout.supplies.insert(supply.id, supply);
        for n in 0..fields(&mut drive.clone()).len() {
            let mut driver = defaults::driver(SupplyId(0), drive.clone());
            let field = fields(&mut driver.drive).swap_remove(n);
            let path = field.path;
            if !spoil(field.value) {
                continue;
            }
            layout.drivers.insert(driver.id, driver);
            let errors = load(&save(&layout)).map(|loaded| loaded.layout).unwrap_err();
            assert!(errors.iter().any(|error| error.place.contains(path)), "{path}: {errors:?}");
        }
    }
}

#[test]
fn every_idle_state_to_choose_is_one_that_a_layout_may_hold() {
    for drive in examples() {
        let kind = of(&drive);
        assert_eq!(kind.contradiction(), None, "{drive:?}");
        assert_eq!(kind.idle_choices().is_empty(), idle_of(&mut drive.clone()).is_none());
    }
}

#[test]
fn direct_drives_agree_by_their_signs() {
    use SetWord::{Forward, Off, Reverse, Stopped};
    let (pwm, smooth) =
        (defaults::pwm_bridge(crate::layout::Idle::BrakeLow), defaults::smooth_dc());
    let at = |x, y, sign| relation((&pwm, x), (&smooth, y), sign);
    assert_eq!(at(Forward, Forward, 1), Some(Relation::Agree));
    assert_eq!(at(Forward, Forward, -1), Some(Relation::Disagree));
    assert_eq!(at(Forward, Reverse, -1), Some(Relation::Agree));
    assert_eq!(at(Stopped, Reverse, 1), Some(Relation::Agree));
    assert_eq!(at(Off, Reverse, 1), Some(Relation::OneDead));
    assert_eq!(at(Off, Off, 1), None);
}

#[test]
fn boosters_agree_in_phase_on_one_station_and_never_with_dc() {
    let on = SetWord::On;
    let (a, b) = (dcc("north", false), dcc("north", true));
    assert_eq!(relation((&a, on), (&a, on), 1), Some(Relation::Agree));
    assert_eq!(relation((&a, on), (&b, on), 1), Some(Relation::Disagree));
    assert_eq!(relation((&a, on), (&b, on), -1), Some(Relation::Agree));
    assert_eq!(relation((&a, on), (&dcc("south", false), on), 1), Some(Relation::Disagree));
    let dc = defaults::smooth_dc();
    for word in [SetWord::Forward, SetWord::Reverse, SetWord::Stopped] {
        assert_eq!(relation((&a, on), (&dc, word), 1), Some(Relation::Disagree));
    }
}

#[test]
fn live_neighbours_of_another_station_decide_the_bits() {
    let (own, dc) = (dcc("north", false), defaults::smooth_dc());
    assert_eq!(beside(&own, [(&dcc("north", true), SetWord::On)]), Beside::SameStation);
    assert_eq!(beside(&own, [(&dcc("south", true), SetWord::On)]), Beside::Other);
    assert_eq!(beside(&own, [(&dc, SetWord::Forward)]), Beside::Other);
    assert_eq!(beside(&own, [(&dc, SetWord::Off)]), Beside::SameStation);
    assert_eq!(beside(&dc, [(&dc, SetWord::Off)]), Beside::Other);
}
