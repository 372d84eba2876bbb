//! The card of a cut: every pair of settings with its verdict, current and share; and what meters would show.

use std::collections::BTreeMap;

use eframe::egui::{
    self, Align2, FontId, Grid, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2,
};

use super::App;
use super::marks::{mark_ui, verdict_mark};
use super::names::{driver_name, set_word};
use super::theme::{SPACE, TIGHT, bold, heading, small, strong, tokens};
use crate::check::{
    CardCell, Current, CutReport, DriverFigures, Facing, Motion, Relation, SetWord, Situation,
    Trips, Verdict,
};
use crate::layout::{CutId, Layout};
use crate::report::{amps, ms, percent};

/// The current that a driver's trip sees, or that of its larger leg if it has none. A.
pub fn sees(figures: &DriverFigures) -> Current {
    match figures.sensed {
        Some(sensed) => sensed,
        None if figures.m.peak > figures.p.peak => figures.m,
        None => figures.p,
    }
}

/// Largest current that any driver carries in a situation. A.
pub fn worst_peak(situation: &Situation) -> f64 {
    situation
        .drivers
        .iter()
        .map(|d| d.p.peak.max(d.m.peak).max(d.supply.peak))
        .fold(0.0, f64::max)
}

/// A verdict's word for people.
pub fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::NotKnown => "not known",
        other => other.word(),
    }
}

/// The card.
pub fn card_ui(ui: &mut Ui, app: &mut App, id: CutId) {
    let Some(cut) = app.check.latest.report.cuts.iter().find(|c| c.id == id).cloned() else {
        ui.label(small(ui, "This cut is not checked yet."));
        return;
    };
    let block = |n: usize| {
        let blocks = &app.check.latest.report.blocks;
        blocks
            .iter()
            .find(|b| b.id == cut.blocks[n])
            .map_or_else(|| cut.blocks[n].to_string(), |b| b.name.clone())
    };
    let names = [block(0), block(1)];
    ui.label(heading("Crossing this gap"));
    summary_ui(ui, &cut);
    ui.add_space(SPACE);
    if cut.card.is_empty() {
        ui.label(small(ui, "There are no pairs of settings here: a side has no driver."));
    } else {
        grid_ui(ui, app, &cut, &names);
    }
    ui.add_space(SPACE);
    let chosen = app.cell.and_then(|(a, b)| cut.card.iter().find(|c| c.a == a && c.b == b));
    let layout = app.doc.layout();
    match chosen {
        Some(cell) => {
            let title = format!(
                "{} {}, {} {}",
                names[0],
                set_word(cell.a),
                names[1],
                set_word(cell.b)
            );
            situation_ui(ui, layout, &title, &cell.situation);
            if ui.button("Show the settings now").clicked() {
                app.cell = None;
            }
        }
        None => situation_ui(ui, layout, "At the settings now", &cut.now),
    }
}

fn summary_ui(ui: &mut Ui, cut: &CutReport) {
    let t = tokens(ui);
    let rows = [
        ("Settings agree", cut.agree.as_ref()),
        ("Settings disagree", cut.disagree.as_ref()),
        ("One side dead", cut.one_dead.as_ref()),
        ("Now", Some(&cut.now)),
    ];
    for (what, situation) in rows {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            ui.allocate_ui(vec2(122.0, 20.0), |ui| {
                ui.set_min_width(122.0);
                ui.label(small(ui, what));
            });
            match situation {
                Some(s) => {
                    mark_ui(ui, s.verdict, 7.0);
                    ui.label(strong(verdict_word(s.verdict)).color(t.verdict(s.verdict)));
                    ui.label(small(
                        ui,
                        format!("up to {}, {} of the time", amps(worst_peak(s)), percent(s.share)),
                    ));
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

fn grid_ui(ui: &mut Ui, app: &mut App, cut: &CutReport, names: &[String; 2]) {
    let mut rows: Vec<SetWord> = cut.card.iter().map(|c| c.a).collect();
    let mut columns: Vec<SetWord> = cut.card.iter().map(|c| c.b).collect();
    for side in [&mut rows, &mut columns] {
        side.sort_by_key(|w| order(*w));
        side.dedup();
    }
    let cells: BTreeMap<(SetWord, SetWord), &CardCell> =
        cut.card.iter().map(|c| ((c.a, c.b), c)).collect();
    let head = 74.0;
    let gap = 3.0;
    let width = ((ui.available_width() - head) / columns.len() as f32 - gap).clamp(56.0, 92.0);
    egui::ScrollArea::horizontal().id_salt("card").show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.add_space(head);
            ui.add(egui::Label::new(small(ui, format!("{} is", names[1]))).truncate());
        });
        Grid::new("card grid").spacing(vec2(gap, gap)).min_col_width(0.0).show(ui, |ui| {
            ui.add(egui::Label::new(small(ui, format!("{} is", names[0]))).truncate());
            for column in &columns {
                ui.vertical_centered(|ui| ui.label(strong(set_word(*column)).size(12.0)));
            }
            ui.end_row();
            for row in &rows {
                ui.allocate_ui(vec2(head, 46.0), |ui| {
                    ui.set_min_width(head - gap);
                    ui.label(strong(set_word(*row)).size(12.0));
                });
                for column in &columns {
                    match cells.get(&(*row, *column)) {
                        Some(cell) => cell_ui(ui, app, cell, width, names),
                        None => {
                            ui.allocate_exact_size(vec2(width, 46.0), Sense::hover());
                        }
                    }
                }
                ui.end_row();
            }
        });
    });
    ui.label(small(ui, "A dashed edge: the settings disagree. Click a cell for its currents."));
}

fn cell_ui(ui: &mut Ui, app: &mut App, cell: &CardCell, width: f32, names: &[String; 2]) {
    let t = tokens(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(width, 46.0), Sense::click());
    let s = &cell.situation;
    let chosen = app.cell == Some((cell.a, cell.b));
    let said = format!(
        "{} {}, {} {}: {}, up to {}, {} of the time",
        names[0],
        set_word(cell.a),
        names[1],
        set_word(cell.b),
        verdict_word(s.verdict),
        amps(worst_peak(s)),
        percent(s.share)
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
    verdict_mark(&painter, rect.left_top() + vec2(11.0, 12.0), 6.0, s.verdict, t);
    painter.text(
        rect.left_top() + vec2(21.0, 12.0),
        Align2::LEFT_CENTER,
        verdict_word(s.verdict),
        FontId::new(11.5, bold()),
        colour,
    );
    let small = FontId::proportional(11.5);
    painter.text(
        rect.left_bottom() + vec2(6.0, -14.0),
        Align2::LEFT_CENTER,
        amps(worst_peak(s)),
        small.clone(),
        t.text,
    );
    painter.text(
        rect.right_bottom() + vec2(-5.0, -14.0),
        Align2::RIGHT_CENTER,
        if width >= 66.0 { percent(s.share) } else { String::new() },
        small,
        t.weak,
    );
    if response.on_hover_text(said).clicked() {
        app.cell = if chosen { None } else { Some((cell.a, cell.b)) };
    }
}

fn situation_ui(ui: &mut Ui, layout: &Layout, title: &str, s: &Situation) {
    let t = tokens(ui);
    ui.label(heading(title));
    ui.horizontal(|ui| {
        mark_ui(ui, s.verdict, 8.0);
        ui.label(strong(verdict_word(s.verdict)).color(t.verdict(s.verdict)));
        let longest = match s.longest_s {
            Some(longest) if s.share > 0.0 => format!(", at most {} at a stretch", ms(longest)),
            _ => String::new(),
        };
        ui.label(small(ui, format!("in conflict {} of the time{longest}", percent(s.share))));
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
        "The trip sees the peak. An averaging meter shows the mean, a true-RMS meter the RMS: neither shows what trips.",
    ));
}

fn figures_ui(ui: &mut Ui, layout: &Layout, s: &Situation) {
    let t = tokens(ui);
    Grid::new("figures").num_columns(5).spacing(vec2(10.0, 5.0)).show(ui, |ui| {
        for head in ["Driver", "Trip sees", "Averaging", "True-RMS", "Trips"] {
            ui.label(small(ui, head));
        }
        ui.end_row();
        for driver in &s.drivers {
            let seen = sees(driver);
            let state = s.settings.get(&driver.id).map(|set| {
                let throttle = match set.state {
                    SetWord::Forward | SetWord::Reverse => format!(" {:.0} %", set.throttle * 100.0),
                    _ => String::new(),
                };
                format!("{}{throttle}", set_word(set.state))
            });
            ui.vertical(|ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                ui.add(egui::Label::new(strong(driver_name(layout, driver.id))).truncate());
                if let Some(state) = state {
                    ui.label(small(ui, state));
                }
            });
            ui.label(strong(amps(seen.peak)));
            ui.label(amps(seen.mean));
            ui.label(amps(seen.rms));
            let trips = trips_words(driver, s.first.contains(&driver.id));
            let colour = match driver.trips {
                Trips::No => t.text,
                Trips::Sometimes | Trips::Yes => t.verdict(Verdict::Short),
            };
            ui.add(egui::Label::new(egui::RichText::new(trips).color(colour)).wrap());
            ui.end_row();
        }
    });
}

fn trips_words(driver: &DriverFigures, first: bool) -> String {
    let mut words = match driver.trips {
        Trips::No => "no".to_owned(),
        Trips::Sometimes => format!("sometimes, {}", percent(driver.trips_share)),
        Trips::Yes => "yes".to_owned(),
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
    let vehicle = s
        .vehicle
        .and_then(|id| layout.vehicles.get(&id).map(|v| (id, v)))
        .map_or_else(
            || "a stand-in vehicle".to_owned(),
            |(id, v)| if v.name.is_empty() { id.to_string() } else { v.name.clone() },
        );
    let motion = match (s.motion, s.speed_mm_s) {
        (Motion::Moving, Some(speed)) => format!("rolling at {speed:.0} mm/s"),
        (Motion::Moving, None) => "rolling".to_owned(),
        (Motion::Standing, _) => "standing on the gap".to_owned(),
    };
    let facing = match s.facing {
        Facing::AToB => "front ahead",
        Facing::BToA => "front behind",
    };
    format!("Worst with {vehicle}, {motion}, {facing}")
}
