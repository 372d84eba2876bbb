//! Comparing two designs: findings add up, the work leads from one to the other, and its order is safe where one is.

use gapwright::compare::{Cell, Comparison, Corrections, matched};
use gapwright::cure::{Surgery, applied};
use gapwright::findings::{Memo, Study, check};
use gapwright::layout::{Edit, FeedId, Layout, apply};

use super::samples::sample;
use super::support::dice::Dice;
use super::support::yards::{D1, brake_low_pair, edited, idle, yard};
use super::support::{random, redrawn, renamed};

fn sums(old: &Layout, new: &Layout) -> (usize, usize, usize) {
    let comparison = Comparison::of(old, new);
    let (mended, made, kept) =
        (comparison.mended().len(), comparison.made().len(), comparison.kept().len());
    assert_eq!(mended + kept, check(old).findings.len());
    assert_eq!(made + kept, check(new).findings.len());
    (mended, made, kept)
}

#[test]
fn a_design_compared_with_itself_takes_no_work() {
    for name in ["club", "terminus", "transfer"] {
        let layout = sample(name);
        let comparison = Comparison::of(&layout, &layout);
        assert!(comparison.steps.is_empty() && comparison.is_safe());
        assert!(comparison.mended().is_empty() && comparison.made().is_empty());
    }
}

#[test]
fn the_club_and_its_cure_differ_by_two_jobs() {
    let old = sample("club");
    let surgery = Surgery::of(&Study::of(&old, &Memo::default()));
    let set = surgery.together(&surgery.faults());
    let new = applied(&old, &set.jobs).unwrap();
    let comparison = Comparison::of(&old, &new);
    let mut says: Vec<&str> = comparison.steps.iter().map(|step| step.says.as_str()).collect();
    let mut jobs: Vec<&str> = set.says.iter().map(String::as_str).collect();
    says.sort();
    jobs.sort();
    assert_eq!(says, jobs);
    assert_eq!(comparison.steps.iter().map(|step| step.minutes).sum::<u32>(), 8);
    assert!(comparison.is_safe());
    // Two faults and a note are gone, a note is new: the note of a board that is powered through rails covers more gaps.
    let faults = |list: Vec<&gapwright::findings::Finding>| {
        list.into_iter().filter(|f| f.class == gapwright::findings::Class::Fault).count()
    };
    assert_eq!((faults(comparison.mended()), faults(comparison.made())), (2, 0));
}

#[test]
fn what_one_way_mends_the_other_way_makes() {
    for (old, new) in [
        (sample("brake-idle"), sample("one-board")),
        (yard(""), edited(&yard(""), Edit::Swap { feed: FeedId(2) })),
        (sample("wiring-day"), sample("terminus")),
    ] {
        let (mended, made, kept) = sums(&old, &new);
        assert_eq!(sums(&new, &old), (made, mended, kept));
    }
    for seed in 0..2 {
        let (old, new) = (random::layout(seed), random::layout(seed + 100));
        let (mended, made, kept) = sums(&old, &new);
        assert_eq!(sums(&new, &old), (made, mended, kept), "seed {seed}");
    }
}

#[test]
fn the_safe_order_is_found_whatever_the_order_of_identities() {
    // The old design idles on one side, the new one on the other: to brake on both for a moment would be a new fault at
    // neither end, so the idle state that goes comes first.
    let old = brake_low_pair();
    let sound = idle(&old, D1, gapwright::layout::Idle::HighImpedance);
    let comparison = Comparison::of(&old, &sound);
    assert!(comparison.is_safe() && comparison.steps.len() == 1);
    assert!(comparison.steps[0].says.contains("high-impedance"), "{:?}", comparison.steps);
    // Both feeds exchanged: after one of them the rails oppose, whichever comes first. That is told.
    let plain = yard("");
    let mut both = plain.clone();
    for feed in [1, 2] {
        apply(&mut both, Edit::Swap { feed: FeedId(feed) }).unwrap();
    }
    let comparison = Comparison::of(&plain, &both);
    assert_eq!(comparison.steps.len(), 2);
    assert!(!comparison.is_safe());
    assert!(!comparison.steps[0].makes.is_empty() && comparison.steps[1].makes.is_empty());
}

#[test]
fn the_work_of_a_new_driver_names_the_supply_first() {
    let old = sample("wiring-day");
    let wishes = gapwright::planning::wishes_of(&old);
    let new = gapwright::planning::finished(&old, &wishes).unwrap().layout;
    let comparison = Comparison::of(&old, &new);
    let at = |word: &str| comparison.steps.iter().position(|step| step.says.contains(word));
    assert!(at("Add Viaduct supply") < at("Add Viaduct driver"), "{:#?}", comparison.steps);
    assert!(at("Add Viaduct driver") < at("Connect feeder"), "{:#?}", comparison.steps);
}

#[test]
fn trains_at_the_gaps_are_told_before_and_after_and_what_did_not_change_is_alike() {
    let (old, new) = (sample("brake-idle"), sample("brake-idle"));
    let mut cured = new.clone();
    for driver in old.drivers.keys() {
        cured = idle(&cured, *driver, gapwright::layout::Idle::HighImpedance);
    }
    let crossings = Comparison::of(&old, &cured).crossings();
    assert_eq!(crossings.rows.len(), 1);
    let passers: Vec<String> = crossings.passers.iter().map(|p| p.name([&old, &cured])).collect();
    assert_eq!(passers.len(), old.vehicles.len(), "{passers:?}");
    // Each cell is what each report says by itself.
    let worst = |layout: &Layout, n: usize| {
        let cut = &check(layout).cuts[0];
        let passes = cut.passes_agree.iter().filter(|pass| {
            pass.vehicle.map(gapwright::compare::Passer::Vehicle) == Some(crossings.passers[n])
        });
        Cell::Judged(passes.map(|pass| pass.verdict).max().unwrap())
    };
    for (n, cell) in crossings.rows[0].cells.iter().enumerate() {
        assert_eq!(*cell, [worst(&old, n), worst(&cured, n)]);
    }
    let mended = |[old, new]: &[Cell; 2]| old.verdict() > new.verdict();
    assert!(crossings.rows[0].cells.iter().any(mended), "{crossings:?}");
    // Compared with itself both halves are alike; the other way round they are exchanged.
    for row in Comparison::of(&old, &old).crossings().rows {
        assert!(row.cells.iter().all(|[old, new]| old == new));
    }
    let back = Comparison::of(&cured, &old).crossings();
    for (there, back) in crossings.rows[0].cells.iter().zip(&back.rows[0].cells) {
        assert_eq!([there[1], there[0]], *back);
    }
    // A gap that only one design has.
    let mut bare = old.clone();
    let cut = *old.cuts.keys().next().unwrap();
    apply(&mut bare, Edit::Delete(vec![cut.into()])).unwrap();
    let crossings = Comparison::of(&bare, &old).crossings();
    let only_new = |[old, new]: &[Cell; 2]| *old == Cell::NoGap && new.verdict().is_some();
    assert!(crossings.rows[0].cells.iter().all(only_new));
    // Where throttles cannot agree nothing is called clear.
    let museum = sample("dcc-beside-dc");
    let crossings = Comparison::of(&museum, &museum).crossings();
    assert!(crossings.worth_telling().count() == 1, "{crossings:?}");
    assert!(crossings.rows[0].cells.iter().flatten().all(|cell| *cell == Cell::NoAgreement));
}

#[test]
fn a_fault_of_another_verdict_is_made_and_names_and_settings_are_no_work() {
    // Without its first feed the wye stalls; with it the same findings are shorts.
    let wye = sample("wye");
    let mut dead = wye.clone();
    apply(&mut dead, Edit::Delete(vec![FeedId(1).into()])).unwrap();
    let faults = |list: Vec<&gapwright::findings::Finding>| {
        list.into_iter().filter(|f| f.class == gapwright::findings::Class::Fault).count()
    };
    let fed = Comparison::of(&dead, &wye);
    assert!(faults(fed.made()) > 0 && faults(fed.mended()) > 0);
    sums(&dead, &wye);
    // Other names, throttles and points are one minute together.
    let club = sample("club");
    let mut renamed = club.clone();
    for driver in renamed.drivers.values_mut() {
        driver.name.push('!');
        driver.setting.throttle = 0.25;
    }
    for special in renamed.specials.values_mut() {
        special.notes = "oil it".into();
    }
    let comparison = Comparison::of(&club, &renamed);
    assert_eq!((comparison.steps.len(), comparison.steps[0].minutes), (1, 1));
    // A feed that moves says where to.
    let mut moved = club.clone();
    let feed = moved.feeds.values_mut().next().unwrap();
    feed.at_mm += 20.0;
    let to = format!("move it to {} mm from the start of run {}", feed.at_mm.round(), feed.run);
    let comparison = Comparison::of(&club, &moved);
    assert!(comparison.steps[0].says.contains(&to), "{:?}", comparison.steps);
}

#[test]
fn the_verb_tells_trains_and_assumed_values() {
    let folder = tempfile::tempdir().unwrap();
    let (old, new) = (sample("club"), sample("club"));
    let surgery = Surgery::of(&Study::of(&old, &Memo::default()));
    let new = applied(&new, &surgery.together(&surgery.faults()).jobs).unwrap();
    let files = ["old", "new"].map(|name| folder.path().join(name));
    for (layout, file) in [&old, &new].into_iter().zip(&files) {
        gapwright::layout::write_path(layout, file).unwrap();
    }
    let run = |json: bool| {
        let mut call = std::process::Command::new(env!("CARGO_BIN_EXE_gapwright"));
        call.arg("compare").args(&files).args(json.then_some("--json"));
        String::from_utf8(call.output().unwrap().stdout).unwrap()
    };
    let text = run(false);
    for words in [
        "Trains at the gaps with agreeing throttles, old then new:",
        "Heron diesel short -> clear; Thistle railcar short -> clear",
        "more gaps are clear for every train in both.",
        "What the verdicts on the new design assume:",
        "resistance of one rail, 0.1 Ω per m (assumed, between 0.07 and 0.2 Ω per m): the rails",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let json: serde_json::Value = serde_json::from_str(&run(true)).unwrap();
    let crossings = json["crossings"].as_array().unwrap();
    assert!(crossings.iter().any(|c| c["old"] == "short" && c["new"] == "clear"));
    assert!(json["values"].as_array().unwrap().iter().any(|v| v["of"] == serde_json::json!([])));
}

#[test]
fn a_rule_that_holds_at_one_more_gap_is_kept_and_a_fault_at_another_place_is_not() {
    let (old, new) = (sample("club"), sample("club-redesign"));
    let comparison = Comparison::of(&old, &new);
    let kinds = |list: Vec<&gapwright::findings::Finding>| -> Vec<String> {
        list.into_iter().map(|f| format!("{} {:?}", f.kind, f.class)).collect()
    };
    assert_eq!(kinds(comparison.mended()), ["swapped-feed Fault", "idle-clamp Fault"]);
    // The redesign has the same kind of fault at its new gap, and that is another one.
    assert_eq!(kinds(comparison.made()), ["idle-clamp Fault"]);
    assert!(kinds(comparison.kept()).contains(&"opposed-polarity Rule".to_owned()));
    let (mended, made, kept) = sums(&old, &new);
    assert_eq!(sums(&new, &old), (made, mended, kept));
}

/// A layout as somebody else would have drawn it: other identities, and every other run from its other end.
fn drawn_anew(layout: &Layout, seed: u64) -> Layout {
    let (renamed, _) = renamed::at_random(layout, &mut Dice::new(seed));
    redrawn::runs_turned(&renamed, |run| run.0 % 2 == 1)
}

#[test]
fn a_design_that_is_drawn_anew_takes_no_work() {
    for (name, seed) in [("club", 1), ("terminus", 2), ("turntable", 3), ("wye", 4)] {
        let layout = sample(name);
        let anew = drawn_anew(&layout, seed);
        assert_ne!(anew, layout);
        let comparison = Comparison::of(&layout, &anew);
        let says: Vec<&str> = comparison.steps.iter().map(|step| step.says.as_str()).collect();
        assert!(says.is_empty(), "{name}: {says:#?}");
        assert!(comparison.mended().is_empty() && comparison.made().is_empty(), "{name}");
        assert!(!comparison.matched.is_empty());
    }
}

#[test]
fn a_redesign_that_is_drawn_anew_takes_the_same_work_as_the_redesign() {
    let (old, new) = (sample("club"), sample("club-redesign"));
    let tells = |new: &Layout| {
        let comparison = Comparison::of(&old, new);
        let count = (comparison.mended().len(), comparison.made().len(), comparison.kept().len());
        (count, comparison.minutes(), comparison.steps.len())
    };
    assert_eq!(tells(&drawn_anew(&new, 5)), tells(&new));
}

#[test]
fn what_is_taken_for_the_same_can_be_corrected() {
    let old = sample("brake-idle");
    let new = renamed::raised(&old, 100);
    let cut = *old.cuts.keys().next().unwrap();
    let raised = gapwright::layout::CutId(cut.0 + 100);
    let as_is = matched(&old, &new, &Corrections::default()).unwrap();
    assert!(as_is.pairs.contains(&(cut.into(), raised.into())));
    assert_eq!(as_is.new.cuts.keys().next(), Some(&cut));
    // Said to be another gap, it is one: the old one goes, and a new one comes.
    let apart = Corrections { apart: [raised.into()].into(), ..Corrections::default() };
    let comparison =
        Comparison::from(&Study::of(&old, &Memo::default()), matched(&old, &new, &apart).unwrap());
    let says: Vec<&str> = comparison.steps.iter().map(|step| step.says.as_str()).collect();
    assert_eq!(says.len(), 2, "{says:#?}");
    // Said to be the same all the same, it is that.
    let same = Corrections { same: vec![(cut.into(), raised.into())], ..Corrections::default() };
    assert_eq!(matched(&old, &new, &same).unwrap(), as_is);
    // A thing in two corrections is refused.
    let pair = (cut.into(), raised.into());
    for wrong in [
        Corrections { same: vec![pair, pair], ..Corrections::default() },
        Corrections { same: vec![pair], apart: [raised.into()].into() },
    ] {
        assert!(matched(&old, &new, &wrong).is_err(), "{wrong:?}");
    }
    // What a design does not have, and things of two kinds, are refused.
    for same in [(cut.into(), cut.into()), (raised.into(), raised.into()), (cut.into(), D1.into())]
    {
        let wrong = Corrections { same: vec![same], ..Corrections::default() };
        assert!(matched(&old, &new, &wrong).is_err(), "{same:?}");
    }
}

#[test]
fn a_number_that_means_another_thing_in_a_new_drawing_misleads_nobody() {
    // Two gaps exchange their numbers: each is still where it was.
    let old = sample("club");
    let [one, other] = [0, 1].map(|n| *old.cuts.keys().nth(n).unwrap());
    let ids = [(one.to_string(), other.to_string()), (other.to_string(), one.to_string())];
    let new = renamed::with(&old, &ids.into());
    assert_ne!(new, old);
    assert!(Comparison::of(&old, &new).steps.is_empty());
}

#[test]
fn a_run_is_counted_from_its_other_end_as_by_hand() {
    for name in ["club", "turntable", "transfer"] {
        let layout = sample(name);
        let runs = layout.runs.keys().copied().collect();
        let by_edit = gapwright::layout::edit::turned_round(&layout, &runs);
        let by_hand = redrawn::runs_turned(&layout, |_| true);
        assert_eq!(Comparison::of(&by_hand, &by_edit).steps.len(), 0, "{name}");
    }
}

#[test]
fn runs_that_are_counted_from_their_other_ends_under_their_old_identities_are_no_work() {
    for name in ["brake-idle", "club", "wye", "transfer"] {
        let layout = sample(name);
        let turned = redrawn::runs_turned(&layout, |_| true);
        assert_ne!(turned, layout);
        let steps = Comparison::of(&layout, &turned).steps;
        assert!(steps.is_empty(), "{name}: {steps:#?}");
    }
}

#[test]
fn a_bridge_that_is_turned_round_is_a_change_of_the_track() {
    // The half turn in which a turntable exchanges its rails counts from the start of its bridge.
    let layout = sample("turntable");
    let mut turned = layout.clone();
    let bridge = layout.specials.values().find_map(|special| special.work.bridge()).unwrap();
    let run = turned.runs.get_mut(&bridge).unwrap();
    std::mem::swap(&mut run.from, &mut run.to);
    for turned in [renamed::raised(&turned, 100), turned] {
        assert!(!Comparison::of(&layout, &turned).steps.is_empty());
    }
}

#[test]
fn gaps_near_each_other_are_told_apart_by_their_names_and_their_places() {
    let line = |gaps: &str| {
        let text = format!(
            r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 2000, y_mm: 0)],
            runs: [(id: "r3", from: "j1", to: "j2")], cuts: [{gaps}])"#
        );
        gapwright::layout::load(&text).unwrap_or_else(|why| panic!("{why:?}")).layout
    };
    let gap = |id: &str, name: &str, at_mm: f64| {
        format!(r#"(id: "{id}", run: "r3", at_mm: {at_mm}, rails: Both, name: "{name}"),"#)
    };
    let old = line(&(gap("c4", "Home", 1000.0) + &gap("c5", "Second", 1025.0)));
    let pairs = |new: &str| matched(&old, &line(new), &Corrections::default()).unwrap().pairs;
    let ids = |pairs: &[(&str, &str)]| -> Vec<_> {
        pairs.iter().map(|(a, b)| (a.parse().unwrap(), b.parse().unwrap())).collect()
    };
    // Both 15 mm on: the old second gap is nearer to the new home gap.
    let moved = gap("c8", "Home", 1015.0) + &gap("c9", "Second", 1040.0);
    assert_eq!(pairs(&moved), ids(&[("c4", "c8"), ("c5", "c9")]));
    // The numbers exchanged, and nothing else.
    let exchanged = gap("c5", "Home", 1000.0) + &gap("c4", "Second", 1025.0);
    assert_eq!(pairs(&exchanged), ids(&[("c5", "c4"), ("c4", "c5")]));
}
