//! The card of a cut: every pair of settings with its verdict, current and share; and what meters would show.

use std::collections::BTreeMap;
use std::sync::Arc;

use eframe::egui::{
    self, Align2, FontId, Grid, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

use super::App;
use super::marks::{mark_ui, verdict_mark};
use super::names::driver_name;
use super::theme::{SPACE, TIGHT, bold, heading, small, strong, tokens};
use crate::findings::{
    CardCell, Current, CutReport, DriverFigures, Facing, Motion, Relation, SetWord, Situation,
    Trips, Verdict,
};
use crate::layout::{CutId, Layout, shown};
use crate::report::{amps, ms, percent};
use crate::signal::Longest;

/// The current that a driver's trip sees, or that of its larger leg if it has none. A.
pub fn sees(figures: &DriverFigures) -> Current {
    match figures.sensed {
        Some(sensed) => sensed,
        None if figures.m.peak > figures.p.peak => figures.m,
        None => figures.p,
    }
}

/// What a driver's trip compares with its threshold at the worst phase: what an averaging one's filter or a sampling one's
/// samples make of the current. The peak where there is no such figure. A.
pub fn compares(figures: &DriverFigures) -> f64 {
    figures.trip_compares_a.unwrap_or(sees(figures).peak)
}

/// Largest current that any driver carries in a situation. A.
pub fn worst_peak(situation: &Situation) -> f64 {
    situation.drivers.iter().map(|d| d.p.peak.max(d.m.peak).max(d.supply.peak)).fold(0.0, f64::max)
}

/// Share of time in conflict, in words; never "-0 %".
fn share(s: &Situation) -> String {
    percent(s.share.abs())
}

/// Height of a cell of the card, points.
const CELL: f32 = 54.0;

/// The card.
pub fn card_ui(ui: &mut Ui, app: &mut App, id: CutId) {
    let checked = Arc::clone(&app.check.latest);
    let Some(cut) = checked.report.cuts.iter().find(|c| c.id == id) else {
        ui.label(small(ui, "This cut is not checked yet."));
        return;
    };
    let block = |n: usize| {
        let blocks = &checked.report.blocks;
        blocks
            .iter()
            .find(|b| b.id == cut.blocks[n])
            .map_or_else(|| cut.blocks[n].to_string(), |b| b.name.clone())
    };
    let names = [block(0), block(1)];
    ui.label(heading("Crossing this gap"));
    ui.scope(|ui| summary_ui(ui, cut));
    ui.horizontal(|ui| {
        if ui.button("Look at this gap").on_hover_text("G").clicked() {
            app.look_at_gap(cut.id);
        }
        super::run::over_gap_ui(ui, app, cut.id);
    });
    super::reversing::reversing_ui(ui, app, id);
    ui.add_space(SPACE);
    if cut.card.is_empty() {
        ui.label(small(ui, "There are no pairs of settings here: a side has no driver."));
    } else {
        grid_ui(ui, &mut app.cell, cut, &names);
    }
    ui.add_space(SPACE);
    let chosen = app.cell.and_then(|(a, b)| cut.card.iter().find(|c| c.a == a && c.b == b));
    let layout = app.doc.layout();
    match chosen {
        Some(cell) => {
            let title = format!("{} {}, {} {}", names[0], cell.a.word(), names[1], cell.b.word());
            situation_ui(ui, layout, &title, &cell.situation);
            if ui.button("Show the settings now").clicked() {
                app.cell = None;
            }
        }
        None => situation_ui(ui, layout, "At the settings now", &cut.now),
    }
}

/// The worst verdict of each relation of settings, and that of now.
pub(super) fn summary_ui(ui: &mut Ui, cut: &CutReport) {
    let t = tokens(ui);
    let rows = [
        ("Settings agree", cut.agree.as_ref()),
        ("Settings disagree", cut.disagree.as_ref()),
        ("One side dead", cut.one_dead.as_ref()),
        ("Now", Some(&cut.now)),
    ];
    for (what, situation) in rows {
        ui.spacing_mut().interact_size.y = 19.0;
        ui.spacing_mut().item_spacing.y = 3.0;
        ui.horizontal(|ui| {
            ui.allocate_ui(vec2(118.0, 19.0), |ui| {
                ui.set_min_width(118.0);
                ui.label(small(ui, what));
            });
            match situation {
                Some(s) => {
                    mark_ui(ui, s.verdict, 7.0);
                    ui.label(strong(s.verdict.plain()).color(t.verdict(s.verdict)));
                    if s.share > 0.0 {
                        ui.label(small(
                            ui,
                            format!("up to {}, {} of the time", amps(worst_peak(s)), share(s)),
                        ));
                    }
                }
                None => {
                    ui.label(small(ui, "cannot be here"));
                }
            }
        });
    }
}

fn order(word: SetWord) -> u8 {
    match word {
        SetWord::Forward => 0,
        SetWord::Reverse => 1,
        SetWord::On => 2,
        SetWord::Stopped => 3,
        SetWord::Off => 4,
        SetWord::Unpowered => 5,
    }
}

/// Every pair of settings; a click on one chooses it, or none again.
pub(super) fn grid_ui(
    ui: &mut Ui,
    chosen: &mut Option<(SetWord, SetWord)>,
    cut: &CutReport,
    names: &[String; 2],
) {
    let mut rows: Vec<SetWord> = cut.card.iter().map(|c| c.a).collect();
    let mut columns: Vec<SetWord> = cut.card.iter().map(|c| c.b).collect();
    for side in [&mut rows, &mut columns] {
        side.sort_by_key(|w| order(*w));
        side.dedup();
    }
    let cells: BTreeMap<(SetWord, SetWord), &CardCell> =
        cut.card.iter().map(|c| ((c.a, c.b), c)).collect();
    let head = 72.0;
    let gap = 3.0;
    let width = ((ui.available_width() - head) / columns.len() as f32 - gap).clamp(62.0, 92.0);
    egui::ScrollArea::horizontal().id_salt("card").show(ui, |ui| {
        let sides = format!("Down the side {}, across the top {}:", names[0], names[1]);
        ui.add(egui::Label::new(small(ui, sides)).wrap());
        Grid::new("card grid").spacing(vec2(gap, gap)).min_col_width(0.0).show(ui, |ui| {
            ui.label("");
            for column in &columns {
                ui.vertical_centered(|ui| ui.label(strong(column.word()).size(11.5)));
            }
            ui.end_row();
            for row in &rows {
                ui.allocate_ui(vec2(head, CELL), |ui| {
                    ui.set_min_width(head - gap);
                    ui.label(strong(row.word()).size(11.5));
                });
                for column in &columns {
                    match cells.get(&(*row, *column)) {
                        Some(cell) => cell_ui(ui, chosen, cell, width, names),
                        None => {
                            ui.allocate_exact_size(vec2(width, CELL), Sense::hover());
                        }
                    }
                }
                ui.end_row();
            }
        });
    });
    ui.label(small(ui, "A dashed edge: the settings disagree. Click a cell for its currents."));
}

fn cell_ui(
    ui: &mut Ui,
    open: &mut Option<(SetWord, SetWord)>,
    cell: &CardCell,
    width: f32,
    names: &[String; 2],
) {
    let t = tokens(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(width, CELL), Sense::click());
    let s = &cell.situation;
    let chosen = *open == Some((cell.a, cell.b));
    let said = format!(
        "{} {}, {} {}: {}, up to {}, {} of the time",
        names[0],
        cell.a.word(),
        names[1],
        cell.b.word(),
        s.verdict.plain(),
        amps(worst_peak(s)),
        share(s)
    );
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, chosen, &said));
    let painter = ui.painter_at(rect);
    let colour = t.verdict(s.verdict);
    painter.rect_filled(rect, 4.0, t.card);
    let edge = if chosen || response.has_focus() {
        Stroke::new(2.0, t.accent)
    } else if response.hovered() {
        Stroke::new(1.5, t.text)
    } else {
        Stroke::new(1.0, t.hairline)
    };
    if cell.relation == Relation::Disagree && !chosen {
        let r = rect.shrink(0.5);
        let corners =
            [r.left_top(), r.right_top(), r.right_bottom(), r.left_bottom(), r.left_top()];
        let stroke = Stroke::new(1.0, if response.hovered() { t.text } else { t.outline });
        painter.extend(egui::Shape::dashed_line(&corners, stroke, 4.0, 3.0));
    } else {
        painter.rect_stroke(rect, 4.0, edge, StrokeKind::Inside);
    }
    let first = if s.share > 0.0 { rect.top() + 13.0 } else { rect.center().y };
    verdict_mark(&painter, pos2(rect.left() + 11.0, first), 6.0, s.verdict, t);
    painter.text(
        pos2(rect.left() + 21.0, first),
        Align2::LEFT_CENTER,
        s.verdict.plain(),
        FontId::new(11.5, bold()),
        colour,
    );
    if s.share > 0.0 {
        let left = rect.left() + 6.0;
        for (y, words, ink) in [(28.5, amps(worst_peak(s)), t.text), (42.5, share(s), t.weak)] {
            painter.text(
                pos2(left, rect.top() + y),
                Align2::LEFT_CENTER,
                words,
                FontId::proportional(11.5),
                ink,
            );
        }
    }
    if response.on_hover_text(said).clicked() {
        *open = if chosen { None } else { Some((cell.a, cell.b)) };
    }
}

/// The currents of a situation, and the readings of meters.
pub(super) fn situation_ui(ui: &mut Ui, layout: &Layout, title: &str, s: &Situation) {
    let t = tokens(ui);
    ui.label(heading(title));
    ui.horizontal(|ui| {
        mark_ui(ui, s.verdict, 8.0);
        ui.label(strong(s.verdict.plain()).color(t.verdict(s.verdict)));
        let longest = match s.longest_s {
            _ if s.share <= 0.0 => String::new(),
            Longest::Value(longest) => format!(", up to {} without a break", ms(longest)),
            Longest::AtMost(most) => format!(", no longer than {} without a break", ms(most)),
            Longest::Endless => ", without a break for as long as it stands there".into(),
            Longest::NotComputed(_) => String::new(),
        };
        ui.label(small(ui, format!("in conflict {} of the time{longest}", share(s))));
    });
    ui.label(small(ui, vehicle_words(layout, s)));
    if let Some(margin) = s.margin {
        let words = if margin >= 0.0 {
            format!("{} below the threshold that decides", percent(margin))
        } else {
            format!("{} above the threshold that decides", percent(-margin))
        };
        ui.label(small(ui, words));
    }
    ui.add_space(TIGHT);
    if s.drivers.is_empty() {
        ui.label(small(ui, "No driver carries anything."));
        return;
    }
    figures_ui(ui, layout, s);
    ui.label(small(
        ui,
        "The upright stroke is the trip's threshold. A meter shows the mean or the RMS, not what trips.",
    ));
}

/// Per driver: what its trip sees beside what meters show, as bars on one scale, with the trip's threshold.
fn figures_ui(ui: &mut Ui, layout: &Layout, s: &Situation) {
    let t = tokens(ui);
    let threshold =
        |id| layout.drivers.get(&id).and_then(|d| d.trip.as_ref()).map(|t| t.amps.value);
    let scale = s
        .drivers
        .iter()
        .map(|d| sees(d).peak.max(compares(d)).max(threshold(d.id).unwrap_or(0.0)))
        .fold(0.1, f64::max);
    for driver in &s.drivers {
        let seen = sees(driver);
        let state = s.settings.get(&driver.id).map_or_else(String::new, |set| match set.state {
            SetWord::Forward | SetWord::Reverse => {
                format!("{} {:.0} %", set.state.word(), set.throttle * 100.0)
            }
            other => other.word().to_owned(),
        });
        ui.add_space(TIGHT);
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().interact_size.y = 18.0;
            ui.label(strong(driver_name(layout, driver.id)));
            ui.label(small(ui, state));
            let trips = trips_words(driver, s.first.contains(&driver.id));
            let colour = match driver.trips {
                Trips::No => t.weak,
                Trips::Sometimes | Trips::Yes => t.verdict(Verdict::Short),
            };
            ui.label(egui::RichText::new(trips).size(12.0).color(colour));
        });
        let at = threshold(driver.id).map(|a| (a / scale) as f32);
        let trip = driver.sensed.is_some().then(|| compares(driver));
        // An averaging or a sampling trip does not see the peak.
        let differs = trip.is_none_or(|trip| (trip - seen.peak).abs() > 0.01 * seen.peak.abs());
        let rows = [
            trip.map(|trip| ("Its trip sees", trip, t.verdict(Verdict::Short))),
            differs.then_some(("Peak", seen.peak, t.verdict(Verdict::Short))),
            Some(("Averaging meter", seen.mean.abs(), t.accent)),
            Some(("True-RMS meter", seen.rms, t.accent)),
        ];
        for (what, value, colour) in rows.into_iter().flatten() {
            bar_ui(ui, what, value, (value / scale) as f32, at, colour);
        }
    }
}

/// A line with a word, a bar and a current. `mark` is where the threshold lies, 0 to 1.
fn bar_ui(
    ui: &mut Ui,
    what: &str,
    value: f64,
    length: f32,
    mark: Option<f32>,
    colour: egui::Color32,
) {
    let t = tokens(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 16.0), Sense::hover());
    let said = format!("{what}: {}", amps(value));
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
    let painter = ui.painter_at(rect);
    let y = rect.center().y;
    let small = FontId::proportional(12.0);
    painter.text(pos2(rect.left(), y), Align2::LEFT_CENTER, what, small.clone(), t.weak);
    painter.text(
        pos2(rect.right(), y),
        Align2::RIGHT_CENTER,
        amps(value),
        FontId::new(12.0, bold()),
        t.text,
    );
    let (left, right) = (rect.left() + 106.0, rect.right() - 58.0);
    if right <= left {
        return;
    }
    let at = |share: f32| left + (right - left) * share.clamp(0.0, 1.0);
    let track = Rect::from_min_max(pos2(left, y - 3.5), pos2(right, y + 3.5));
    painter.rect_filled(track, 2.0, t.field);
    let bar = Rect::from_min_max(track.min, pos2(at(length), track.bottom()));
    painter.rect_filled(bar, 2.0, colour);
    if let Some(mark) = mark {
        let x = at(mark);
        painter.line_segment([pos2(x, y - 7.0), pos2(x, y + 7.0)], Stroke::new(1.5, t.text));
    }
}

fn trips_words(driver: &DriverFigures, first: bool) -> String {
    let mut words = match driver.trips {
        Trips::No => "does not trip".to_owned(),
        Trips::Sometimes => format!("trips sometimes, {}", percent(driver.trips_share)),
        Trips::Yes => "trips".to_owned(),
    };
    if driver.trips != Trips::No {
        if let Some(after) = driver.trip_after_s {
            words.push_str(&format!(" after {}", ms(after)));
        }
        if first {
            words.push_str(", first");
        }
    }
    words
}

fn vehicle_words(layout: &Layout, s: &Situation) -> String {
    let vehicle = s.vehicle.and_then(|id| layout.vehicles.get(&id).map(|v| (id, v))).map_or_else(
        || "a stand-in vehicle".to_owned(),
        |(id, v)| {
            if v.name.is_empty() { id.to_string() } else { shown(&v.name).into_owned() }
        },
    );
    let motion = match (s.motion, s.speed_mm_s) {
        (Motion::Moving, Some(speed)) => format!("rolling at {speed:.0} mm/s"),
        (Motion::Moving, None) => "rolling".to_owned(),
        (Motion::Standing, _) => "standing on the gap".to_owned(),
        (Motion::NoTrain, _) => return "Nothing stands there that joins the rails".to_owned(),
    };
    let facing = match s.facing {
        Facing::AToB => "front ahead",
        Facing::BToA => "front behind",
    };
    format!("Worst with {vehicle}, {motion}, {facing}")
}
