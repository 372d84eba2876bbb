//! The first milliseconds after the wheels join the rails: a capacitor is charged through them.

use eframe::egui::{Label, Role, Ui, WidgetInfo};
use egui_plot::{HLine, Line, Plot, PlotPoints, VLine};

use super::super::names;
use super::super::theme::{TIGHT, heading, small, tokens};
use super::model::Model;
use super::readings::signal_name;
use super::scene::Scene;
use super::waves::{look, short};
use crate::findings::Verdict;
use crate::report::{amps, ms};
use crate::straddle::ix::DriverIx;
use crate::study::scope::{Rush, Signal};

/// Height of the plot, points.
const PLOT: f32 = 230.0;
/// Points of a curve.
const POINTS: u32 = 240;
/// Number of time constants that are shown.
const SHOWN: f64 = 6.0;

/// The name of the supply that is charged.
fn supply(model: &Model, scene: &Scene, rush: &Rush) -> String {
    let names = &scene.gap.around(scene.stance.who).names;
    names
        .supplies
        .get(rush.lifted.supply)
        .map_or_else(String::new, |id| names::supply_name(model.source.layout, *id))
}

/// A rush in words: its peak, how fast it falls, and whose trips act on it.
fn rush_words(model: &Model, scene: &Scene, rush: &Rush) -> Vec<String> {
    let name = supply(model, scene, rush);
    let mut lines = vec![format!(
        "{} into {name} at first, a third of it after {}: its capacitor is charged from {:.1} V to {:.1} V.",
        amps(rush.into.peak_a),
        ms(rush.into.decay_s),
        rush.lifted.from_v,
        rush.lifted.to_v
    )];
    if let Some(longest_s) =
        rush.longest_s.filter(|longest_s| *longest_s < SHOWN * rush.into.decay_s)
    {
        lines.push(format!(
            "The other side drives for {} at most before it pauses; the charging goes on with its next period.",
            ms(longest_s)
        ));
    }
    for (driver, after_s) in &rush.trips {
        let after = match after_s.map(ms) {
            Some(after) => format!("{after} after the joint"),
            None => "on it".to_owned(),
        };
        lines.push(format!("{}: its trip acts {after}.", model.driver_at(scene, *driver)));
    }
    if rush.trips.is_empty() {
        lines.push("No trip acts on it.".to_owned());
    }
    lines
}

/// The rushes in the card.
pub(super) fn rush_card_ui(ui: &mut Ui, model: &Model) {
    let Some(scene) = model.scene.filter(|scene| !scene.rushes.is_empty()) else { return };
    ui.add_space(TIGHT);
    ui.label(heading("At the first moment"));
    for rush in &scene.rushes {
        for words in rush_words(model, scene, rush) {
            ui.add(Label::new(words).wrap());
        }
    }
}

/// The rushes over time.
pub(super) fn rush_ui(ui: &mut Ui, model: &Model) {
    let Some(scene) = model.scene else { return };
    if scene.rushes.is_empty() {
        let why = match (&scene.judged, scene.woke.is_empty()) {
            (None, _) => "Standing there now it joins nothing. Move it over the gap first.",
            (_, false) => {
                "A board wakes up here and shorts what charges its supply: the waveforms show that."
            }
            _ => {
                "No capacitor is charged as it stands there now: no supply with one is lifted, or its capacitance is not known. \
                 It is entered with the supply."
            }
        };
        ui.add(Label::new(why).wrap());
        return;
    }
    for rush in &scene.rushes {
        for words in rush_words(model, scene, rush) {
            ui.add(Label::new(words).wrap());
        }
        ui.add_space(TIGHT);
        plot_ui(ui, model, scene, rush);
    }
    let words = "Time counts from the moment at which the wheels join the rails. The heaviest moment of the drivers' periods \
                 is taken, through the resistances of the whole loop and without its inductance.";
    ui.add(Label::new(small(ui, words)).wrap());
}

fn plot_ui(ui: &mut Ui, model: &Model, scene: &Scene, rush: &Rush) {
    let t = tokens(ui);
    let case = scene.gap.case(scene.stance.who);
    let end_s = rush.longest_s.unwrap_or(f64::INFINITY).min(SHOWN * rush.into.decay_s);
    let name = format!("Into {}", supply(model, scene, rush));
    // The supply's current, and what each trip sees of it.
    let sees =
        |at: &DriverIx| case.wiring.drivers[*at].trip.is_some() && rush.sensed[*at].peak_a > 0.01;
    let drivers: Vec<DriverIx> = rush.sensed.indices().filter(sees).collect();
    let said = format!(
        "Amps after the wheels join the rails, 0 ms to {} ms: {name}, {} at first",
        short(end_s * 1e3),
        amps(rush.into.peak_a)
    );
    let plot = Plot::new(("rush", rush.lifted.supply.0))
        .height(PLOT)
        .allow_scroll(false)
        .allow_zoom(false)
        .allow_drag(false)
        .allow_boxed_zoom(false)
        .include_y(0.0)
        .include_y(rush.into.peak_a * 1.1)
        .y_axis_min_width(46.0)
        .x_axis_formatter(|mark, _| format!("{} ms", short(mark.value)))
        .y_axis_formatter(|mark, _| format!("{} A", short(mark.value)));
    let plot = plot.show(ui, |plot| {
        let curve = |of: crate::signal::Inrush| -> PlotPoints<'static> {
            let at = |n: u32| end_s * f64::from(n) / f64::from(POINTS);
            let points = (0..=POINTS).map(|n| [at(n) * 1e3, of.at(at(n))]);
            PlotPoints::from(points.collect::<Vec<_>>())
        };
        plot.line(Line::new(name, curve(rush.into)).color(t.text).width(2.5).allow_band(false));
        for driver in drivers {
            let (colour, _, _) = look(model, scene, Signal::Trip(driver), t);
            let name = signal_name(model, scene, Signal::Trip(driver));
            let style = egui_plot::LineStyle::Dashed { length: 8.0 };
            let line = Line::new(name.clone(), curve(rush.sensed[driver]));
            plot.line(line.color(colour).width(2.0).style(style).allow_band(false));
            if let Some(trip) = &case.wiring.drivers[driver].trip {
                let threshold = trip.threshold(&case.wiring.nominal());
                let line = HLine::new(format!("threshold of {name}"), threshold);
                let dense = egui_plot::LineStyle::dashed_dense();
                plot.hline(line.color(colour).width(1.0).style(dense));
            }
        }
        for (driver, after_s) in &rush.trips {
            if let Some(after_s) = after_s {
                let name = format!("{}: acts", model.driver_at(scene, *driver));
                let colour = t.verdict(Verdict::Short);
                plot.vline(VLine::new(name, after_s * 1e3).color(colour).width(2.5));
            }
        }
    });
    plot.response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &said));
}
