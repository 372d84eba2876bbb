//! What the lines and marks on the plan mean.

use eframe::egui::{Align2, Area, Color32, Id, Margin, Order, Rect, Sense, Stroke, Ui, pos2, vec2};

use super::App;
use super::marks::{block_swatch, dashed, mark_ui, polarity_sign};
use super::paint::polarity_looks;
use super::theme::{RAIL_LINE, TIGHT, card, heading, small, tokens};
use crate::findings::Verdict;
use crate::rails::Polarity;

const VERDICTS: [(Verdict, &str); 7] = [
    (Verdict::Clear, "clear"),
    (Verdict::Caution, "caution"),
    (Verdict::NotKnown, "not known: a value decides"),
    (Verdict::Stall, "stall"),
    (Verdict::BackFeed, "back-feed"),
    (Verdict::Overload, "overload"),
    (Verdict::Short, "short"),
];

const RAILS: [(Polarity, &str); 5] = [
    (Polarity::Plus, "positive now"),
    (Polarity::Minus, "negative now"),
    (Polarity::Alternating, "DCC: both in turn"),
    (Polarity::Dead, "dead"),
    (Polarity::Fought, "fed with both at once"),
];

/// The legend, over the corner of the canvas.
pub fn legend_ui(ui: &mut Ui, app: &mut App) {
    let t = tokens(ui);
    Area::new(Id::unique("legend"))
        .order(Order::Middle)
        .pivot(Align2::RIGHT_TOP)
        .fixed_pos(app.canvas.right_top() + vec2(-10.0, 10.0))
        .constrain_to(app.canvas)
        .show(ui.ctx(), |ui| {
            card(t).inner_margin(Margin::same(10)).show(ui, |ui| {
                ui.set_width(190.0);
                ui.spacing_mut().item_spacing.y = TIGHT;
                ui.horizontal(|ui| {
                    ui.label(heading("Legend"));
                    if ui.button("Close").accessible_name("Close the legend").clicked() {
                        app.legend = false;
                    }
                });
                ui.label(small(ui, "Gaps"));
                for (verdict, words) in VERDICTS {
                    ui.horizontal(|ui| {
                        mark_ui(ui, verdict, 7.0);
                        ui.label(words);
                    });
                }
                ui.label(small(ui, "Rails, seen near"));
                for (polarity, words) in RAILS {
                    ui.horizontal(|ui| {
                        rail_ui(ui, polarity);
                        ui.label(words);
                    });
                }
                ui.label(small(ui, "Runs, seen from afar"));
                ui.horizontal(|ui| {
                    swatch_ui(ui, |ui, rect| block_swatch(ui.painter(), rect, 1, t));
                    ui.label("a block: colour and dash");
                });
                ui.horizontal(|ui| {
                    swatch_ui(ui, |ui, rect| line(ui, rect, t.dead, &[], 4.0));
                    ui.label("fed by no driver");
                });
            });
        });
}

fn swatch_ui(ui: &mut Ui, draw: impl FnOnce(&mut Ui, Rect)) {
    let (rect, _) = ui.allocate_exact_size(vec2(44.0, 16.0), Sense::hover());
    draw(ui, rect);
}

fn line(ui: &Ui, rect: Rect, colour: Color32, dash: &[f32], width: f32) {
    let y = rect.center().y;
    let ends = [pos2(rect.left(), y), pos2(rect.right(), y)];
    dashed(ui.painter(), &ends, Stroke::new(width, colour), dash);
}

fn rail_ui(ui: &mut Ui, polarity: Polarity) {
    let t = tokens(ui);
    swatch_ui(ui, |ui, rect| {
        let (colour, dash) = polarity_looks(t, polarity);
        let under = rect.translate(vec2(0.0, 4.0));
        line(ui, under, colour, dash, RAIL_LINE);
        if let Polarity::Plus | Polarity::Minus = polarity {
            let at = rect.center() - vec2(0.0, 3.0);
            polarity_sign(ui.painter(), at, polarity == Polarity::Plus, colour);
        }
    });
}
