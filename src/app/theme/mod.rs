//! Design tokens: every colour, size and space that the window uses, and how egui is dressed in them.
//!
//! Hues of verdicts and controls come from the colour-blind-safe set of Okabe and Ito (*Color Universal Design*, 2008),
//! those of blocks from the schemes of Paul Tol (*Colour Schemes*, SRON technical note, 2021; figures from memory); where a
//! hue is too pale or too dark to be seen on a ground, it is darkened or lightened until it reaches the contrast that WCAG
//! 2.2 asks for. Polarity is light and dark without a hue.
//! Nothing is told by colour alone: blocks also differ in dash and carry a name, verdicts also differ in shape and word.

mod dress;
mod tokens;

use std::sync::Arc;

use eframe::egui::{self, FontFamily, Frame, Stroke, TextStyle, vec2};

use crate::report::Units;

pub use dress::dress;
pub use tokens::{DARK, LIGHT, Tokens, block_dash};

/// Space between things that belong together, points.
pub const TIGHT: f32 = 4.0;

/// Space between things, points.
pub const SPACE: f32 = 8.0;

/// Corner radius of framed things, points.
pub const RADIUS: u8 = 5;

/// Width of the column of labels in a form, points.
pub const LABEL_WIDTH: f32 = 124.0;

/// Thickness of a run drawn as one line, points.
pub const RUN_LINE: f32 = 4.0;

/// Thickness of a rail, points.
pub const RAIL_LINE: f32 = 2.5;

/// The tokens that are in use.
pub fn tokens(ui: &egui::Ui) -> &'static Tokens {
    if ui.visuals().dark_mode { &DARK } else { &LIGHT }
}

/// Units of lengths in this window.
pub fn length_units(ui: &egui::Ui) -> Units {
    ui.data(|data| data.get_temp(units_id())).unwrap_or_default()
}

/// Sets the units of lengths in this window, for what is drawn from now on.
pub fn set_length_units(ui: &egui::Ui, units: Units) {
    ui.data_mut(|data| data.insert_temp(units_id(), units));
}

fn units_id() -> egui::Id {
    egui::Id::unique("units of lengths")
}

/// The frame of a card.
pub fn card(t: &Tokens) -> Frame {
    Frame::new().fill(t.card).stroke(Stroke::new(1.0, t.hairline)).corner_radius(RADIUS)
}

/// A heading inside a panel.
pub fn heading(text: impl Into<String>) -> egui::RichText {
    egui::RichText::new(text).text_style(TextStyle::Heading)
}

/// Bold text in the size of the body.
pub fn strong(text: impl Into<String>) -> egui::RichText {
    egui::RichText::new(text).family(bold())
}

/// Text of less weight.
pub fn weak(ui: &egui::Ui, text: impl Into<String>) -> egui::RichText {
    egui::RichText::new(text).color(tokens(ui).weak)
}

/// Small text of less weight.
pub fn small(ui: &egui::Ui, text: impl Into<String>) -> egui::RichText {
    weak(ui, text).text_style(TextStyle::Small)
}

/// The bold face.
pub fn bold() -> FontFamily {
    FontFamily::Name(Arc::from("bold"))
}

/// A size that is wanted inside a dialog, as far as there is room in the window.
pub fn room(ctx: &egui::Context, width: f32, height: f32) -> egui::Vec2 {
    let there = ctx.content_rect().size() - vec2(60.0, 180.0);
    vec2(width, height).min(there).max(vec2(160.0, 80.0))
}

#[cfg(test)]
mod tests {
    use super::tokens::DASHES;
    use super::tokens::rgb;
    use super::*;
    use eframe::egui::Color32;

    /// Relative luminance by WCAG 2.2.
    fn luminance(c: Color32) -> f64 {
        let channel = |v: u8| {
            let v = f64::from(v) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(c.r()) + 0.7152 * channel(c.g()) + 0.0722 * channel(c.b())
    }

    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn contrast_is_that_of_wcag() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        assert!((contrast(rgb(0x777777), Color32::WHITE) - 4.48).abs() < 0.01);
    }

    #[test]
    fn text_reaches_four_and_a_half_to_one() {
        for (name, t) in [("dark", DARK), ("light", LIGHT)] {
            for (ground_name, ground) in [
                ("panel", t.panel),
                ("card", t.card),
                ("field", t.field),
                ("canvas", t.canvas),
                ("button", t.button),
                ("button hover", t.button_hover),
            ] {
                let got = contrast(t.text, ground);
                assert!(got >= 4.5, "{name}: text on {ground_name} is {got:.2}");
            }
            for (ground_name, ground) in
                [("panel", t.panel), ("card", t.card), ("canvas", t.canvas), ("field", t.field)]
            {
                let got = contrast(t.weak, ground);
                assert!(got >= 4.5, "{name}: weak text on {ground_name} is {got:.2}");
                // Verdict words are written in their colour.
                for (n, verdict) in t.verdicts.iter().enumerate() {
                    let got = contrast(*verdict, ground);
                    assert!(got >= 4.5, "{name}: verdict {n} on {ground_name} is {got:.2}");
                }
            }
            let got = contrast(t.on_chosen, t.chosen);
            assert!(got >= 4.5, "{name}: text on chosen is {got:.2}");
        }
    }

    #[test]
    fn marks_reach_three_to_one() {
        for (name, t) in [("dark", DARK), ("light", LIGHT)] {
            let named = [
                ("accent", t.accent),
                ("dead", t.dead),
                ("positive", t.positive),
                ("negative", t.negative),
            ];
            for (what, mark) in named {
                let got = contrast(mark, t.canvas);
                assert!(got >= 3.0, "{name}: {what} on canvas is {got:.2}");
            }
            for (n, block) in t.blocks.iter().enumerate() {
                for ground in [t.canvas, t.panel, t.card] {
                    let got = contrast(*block, ground);
                    assert!(got >= 3.0, "{name}: block {n} is {got:.2}");
                }
            }
            let got = contrast(t.outline, t.panel);
            assert!(got >= 3.0, "{name}: outline on panel is {got:.2}");
        }
    }

    /// Linear RGB as seen with no cones of one kind (G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, *A
    /// physiologically-based model for simulation of color vision deficiency*, 2009, severity 1.0; figures from memory).
    const DEFICIENCIES: [(&str, [[f64; 3]; 3]); 3] = [
        (
            "protanopia",
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ],
        ),
        (
            "deuteranopia",
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ],
        ),
        (
            "tritanopia",
            [
                [1.255528, -0.076749, -0.178779],
                [-0.078411, 0.930809, 0.147602],
                [0.004733, 0.691367, 0.303900],
            ],
        ),
    ];

    fn seen(c: Color32, by: &[[f64; 3]; 3]) -> Color32 {
        let linear = |v: u8| {
            let v = f64::from(v) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        };
        let rgb = [linear(c.r()), linear(c.g()), linear(c.b())];
        let [r, g, b] = by.map(|row| {
            let v: f64 = row.iter().zip(rgb).map(|(m, v)| m * v).sum();
            let v = v.clamp(0.0, 1.0);
            let v = if v <= 0.0031308 { v * 12.92 } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
            (v * 255.0).round() as u8
        });
        Color32::from_rgb(r, g, b)
    }

    /// How far apart two colours look (CIE 1976, in L*a*b* for D65).
    fn apart(a: Color32, b: Color32) -> f64 {
        let lab = |c: Color32| {
            let linear = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            let (r, g, b) = (linear(c.r()), linear(c.g()), linear(c.b()));
            let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
            let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
            let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089;
            let f = |t: f64| if t > 0.008856 { t.cbrt() } else { 7.787 * t + 16.0 / 116.0 };
            [116.0 * f(y) - 16.0, 500.0 * (f(x) - f(y)), 200.0 * (f(y) - f(z))]
        };
        let (a, b) = (lab(a), lab(b));
        a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn nothing_vanishes_for_those_who_lack_a_kind_of_cones() {
        assert!((apart(Color32::BLACK, Color32::WHITE) - 100.0).abs() < 0.5);
        for (name, t) in [("dark", DARK), ("light", LIGHT)] {
            for (deficiency, matrix) in DEFICIENCIES {
                let canvas = seen(t.canvas, &matrix);
                let marks = [t.positive, t.negative, t.dead, t.accent, t.text];
                for mark in marks.into_iter().chain(t.verdicts).chain(t.blocks) {
                    let got = contrast(seen(mark, &matrix), canvas);
                    // A hand's breadth below what WCAG asks for with full sight.
                    assert!(got >= 2.5, "{name}, {deficiency}: {mark:?} is {got:.2}");
                }
                // The two rails also carry a plus and a minus.
                let got = apart(seen(t.positive, &matrix), seen(t.negative, &matrix));
                assert!(got >= 25.0, "{name}, {deficiency}: the rails are {got:.0} apart");
                // Neither a clear gap nor one that shorts is taken for the other by colour, besides shape and word.
                let [clear, short] = [t.verdicts[0], t.verdicts[6]].map(|c| seen(c, &matrix));
                let got = apart(clear, short);
                assert!(got >= 15.0, "{name}, {deficiency}: clear and short are {got:.0} apart");
            }
        }
    }

    #[test]
    fn no_colour_means_two_things() {
        for (name, t) in [("dark", DARK), ("light", LIGHT)] {
            let taken = t.verdicts.into_iter().chain([t.accent, t.positive, t.negative]);
            for other in taken {
                for (n, block) in t.blocks.into_iter().enumerate() {
                    let got = apart(block, other);
                    assert!(got >= 20.0, "{name}: block {n} is {got:.0} from {other:?}");
                }
            }
            for (n, one) in t.blocks.into_iter().enumerate() {
                for (m, other) in t.blocks.into_iter().enumerate().skip(n + 1) {
                    let got = apart(one, other);
                    assert!(got >= 24.0, "{name}: blocks {n} and {m} are {got:.0} apart");
                }
            }
            for polarity in [t.positive, t.negative] {
                for mark in t.verdicts.into_iter().chain([t.accent]) {
                    let got = apart(polarity, mark);
                    assert!(got >= 12.0, "{name}: {polarity:?} is {got:.0} from {mark:?}");
                }
            }
        }
    }

    #[test]
    fn no_two_of_the_first_28_blocks_look_alike() {
        let mut seen = std::collections::BTreeSet::new();
        for n in 0..28 {
            let looks = (DARK.block(n).to_array(), n % DASHES.len());
            assert!(seen.insert(looks), "block {n} looks like an earlier one");
        }
    }
}
