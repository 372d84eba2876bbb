//! What an empty layout says: what to do first.

use eframe::egui::{Align2, Area, Button, Id, Margin, Order, Ui, vec2};

use super::App;
use super::theme::{RADIUS, SPACE, card, heading, small, strong, tokens};
use super::tools::Tool;

/// Three lines that say what to do, over the empty canvas.
pub fn welcome_ui(ui: &mut Ui, app: &mut App) {
    let t = tokens(ui);
    let place = app.canvas.center();
    Area::new(Id::unique("welcome"))
        .order(Order::Middle)
        .pivot(Align2::CENTER_CENTER)
        .fixed_pos(place)
        .constrain_to(app.canvas)
        .show(ui.ctx(), |ui| {
            card(t)
                .corner_radius(RADIUS + 3)
                .inner_margin(Margin::same(20))
                .show(ui, |ui| {
                    ui.set_width(360.0);
                    ui.label(heading("Which gaps will short, before you cut").size(18.0));
                    ui.label(small(
                        ui,
                        "Draw the track, cut it into blocks, feed each block. Every change is checked at once: what \
                         a train would join at each gap, what current flows, and why.",
                    ));
                    ui.add_space(SPACE);
                    let steps = [
                        (Tool::Lay, "1  Lay track", "Two clicks make a run."),
                        (Tool::Cut, "2  Cut the rails", "A click on a run makes a gap."),
                        (Tool::Feed, "3  Feed each block", "A driver, and a click on the run."),
                    ];
                    for (tool, words, help) in steps {
                        ui.horizontal(|ui| {
                            let button = Button::new(strong(words)).min_size(vec2(150.0, 30.0));
                            if ui.add(button).clicked() {
                                app.tools.take_up(tool);
                            }
                            ui.label(small(ui, help));
                        });
                    }
                    ui.add_space(SPACE);
                    ui.horizontal(|ui| {
                        if ui.add(Button::new("Open a sample").min_size(vec2(150.0, 0.0))).clicked() {
                            app.ask_sample();
                        }
                        if ui.button("Open a file…").clicked() {
                            app.ask_open();
                        }
                    });
                });
        });
}
