//! Design tokens: every colour, size and space that the window uses, and how egui is dressed in them.
//!
//! Hues come from the colour-blind-safe set of Okabe and Ito (*Color Universal Design*, 2008); where a hue is too pale
//! or too dark to be seen on a ground, it is darkened or lightened until it reaches the contrast that WCAG 2.2 asks for.
//! Nothing is told by colour alone: blocks also differ in dash and carry a name, verdicts also differ in shape and word.

use std::sync::Arc;

use eframe::egui::{
    self, Color32, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Frame, Margin,
    Stroke, TextStyle, Theme, Visuals, vec2,
};

use crate::findings::Verdict;
use crate::report::Units;

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

/// The colours of one theme.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tokens {
    /// Ground of the canvas.
    pub canvas: Color32,
    /// Fine lines of the grid.
    pub grid: Color32,
    /// Coarse lines of the grid.
    pub grid_coarse: Color32,
    /// Ground of panels.
    pub panel: Color32,
    /// Ground of cards on a panel.
    pub card: Color32,
    /// Ground of text fields.
    pub field: Color32,
    /// Hairlines between things.
    pub hairline: Color32,
    /// Outlines of controls.
    pub outline: Color32,
    /// Ground of buttons at rest.
    pub button: Color32,
    /// Ground of buttons under the pointer.
    pub button_hover: Color32,
    /// Ground of pressed and chosen buttons.
    pub chosen: Color32,
    /// Text on a chosen button.
    pub on_chosen: Color32,
    /// Text.
    pub text: Color32,
    /// Text of less weight.
    pub weak: Color32,
    /// Selection and focus on the canvas.
    pub accent: Color32,
    /// Track that no driver feeds.
    pub dead: Color32,
    /// A rail at positive potential.
    pub positive: Color32,
    /// A rail at negative potential.
    pub negative: Color32,
    /// Sleepers under the rails.
    pub sleeper: Color32,
    /// Verdict colours, by [`verdict_index`].
    pub verdicts: [Color32; 7],
    /// Colours of blocks; combined with [`DASHES`].
    pub blocks: [Color32; 7],
}

const fn rgb(hex: u32) -> Color32 {
    Color32::from_rgb((hex >> 16) as u8, (hex >> 8) as u8, hex as u8)
}

/// Tokens of the dark theme.
pub const DARK: Tokens = Tokens {
    canvas: rgb(0x14181d),
    grid: rgb(0x1d232a),
    grid_coarse: rgb(0x2a323b),
    panel: rgb(0x1b2026),
    card: rgb(0x232931),
    field: rgb(0x12161a),
    hairline: rgb(0x323a44),
    outline: rgb(0x6d7783),
    button: rgb(0x2b323b),
    button_hover: rgb(0x37414c),
    chosen: rgb(0x56b4e9),
    on_chosen: rgb(0x0b1218),
    text: rgb(0xe9ecef),
    weak: rgb(0xaab3bd),
    accent: rgb(0x56b4e9),
    dead: rgb(0x7d8792),
    positive: rgb(0xe69f00),
    negative: rgb(0x56b4e9),
    sleeper: rgb(0x2c343d),
    verdicts: [
        rgb(0x1fb58b), // clear: bluish green, lightened
        rgb(0xf0e442), // caution: yellow
        rgb(0xb9c2cc), // not known: grey
        rgb(0xe69f00), // stall: orange
        rgb(0xcc79a7), // back-feed: reddish purple
        rgb(0xe69f00), // overload: orange
        rgb(0xf07a35), // short: vermillion, lightened
    ],
    blocks: [
        rgb(0x56b4e9), // sky blue
        rgb(0xe69f00), // orange
        rgb(0x1fb58b), // bluish green, lightened
        rgb(0xcc79a7), // reddish purple
        rgb(0xf0e442), // yellow
        rgb(0x4a97d6), // blue, lightened
        rgb(0xe8692a), // vermillion, lightened
    ],
};

/// Tokens of the light theme.
pub const LIGHT: Tokens = Tokens {
    canvas: rgb(0xfbfbf8),
    grid: rgb(0xeeeeea),
    grid_coarse: rgb(0xdededa),
    panel: rgb(0xf3f4f2),
    card: rgb(0xffffff),
    field: rgb(0xffffff),
    hairline: rgb(0xd3d6d6),
    outline: rgb(0x7b838b),
    button: rgb(0xe4e7e7),
    button_hover: rgb(0xd5dadb),
    chosen: rgb(0x0072b2),
    on_chosen: rgb(0xffffff),
    text: rgb(0x1b1f24),
    weak: rgb(0x515962),
    accent: rgb(0x0072b2),
    dead: rgb(0x7b838b),
    positive: rgb(0xa86c00),
    negative: rgb(0x0072b2),
    sleeper: rgb(0xd6d6cf),
    verdicts: [
        rgb(0x007a58), // clear: bluish green, darkened
        rgb(0x846800), // caution: yellow, darkened
        rgb(0x5a636d), // not known: grey
        rgb(0x965f00), // stall: orange, darkened
        rgb(0x9c4a78), // back-feed: reddish purple, darkened
        rgb(0x965f00), // overload: orange, darkened
        rgb(0xb84a00), // short: vermillion, darkened
    ],
    blocks: [
        rgb(0x2a86bd), // sky blue, darkened
        rgb(0xb57600), // orange, darkened
        rgb(0x008763), // bluish green, darkened
        rgb(0xb3578a), // reddish purple, darkened
        rgb(0x8f7d00), // yellow, darkened
        rgb(0x005a94), // blue, darkened
        rgb(0xc95400), // vermillion, darkened
    ],
};

/// Dashes of blocks: lengths of mark and space, points. An empty dash is a solid line.
pub const DASHES: [&[f32]; 4] = [&[], &[14.0, 5.0], &[5.0, 4.0], &[16.0, 4.0, 4.0, 4.0]];

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

/// Place of a verdict in [`Tokens::verdicts`].
pub fn verdict_index(verdict: Verdict) -> usize {
    match verdict {
        Verdict::Clear => 0,
        Verdict::Caution => 1,
        Verdict::NotKnown => 2,
        Verdict::Stall => 3,
        Verdict::BackFeed => 4,
        Verdict::Overload => 5,
        Verdict::Short => 6,
    }
}

impl Tokens {
    /// Colour of a verdict; its mark and its word tell it too.
    pub fn verdict(&self, verdict: Verdict) -> Color32 {
        self.verdicts[verdict_index(verdict)]
    }

    /// Colour of the `n`-th block.
    pub fn block(&self, n: usize) -> Color32 {
        self.blocks[n % self.blocks.len()]
    }
}

/// Dash of the `n`-th block. Seven colours and four dashes tell 28 blocks apart.
pub fn block_dash(n: usize) -> &'static [f32] {
    DASHES[n % DASHES.len()]
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

/// Dresses egui: faces, sizes, spaces, and both themes.
pub fn dress(ctx: &egui::Context) {
    ctx.set_fonts(fonts());
    // The scale has bounds here, and its keys are in the list of actions.
    ctx.options_mut(|options| options.zoom_with_keyboard = false);
    for (theme, tokens) in [(Theme::Dark, &DARK), (Theme::Light, &LIGHT)] {
        ctx.style_mut_of(theme, |style| {
            style.visuals = visuals(theme, tokens);
            style.text_styles = [
                (TextStyle::Small, FontId::new(12.0, FontFamily::Proportional)),
                (TextStyle::Body, FontId::new(14.0, FontFamily::Proportional)),
                (TextStyle::Button, FontId::new(14.0, FontFamily::Proportional)),
                (TextStyle::Heading, FontId::new(15.0, bold())),
                (TextStyle::Monospace, FontId::new(13.0, FontFamily::Monospace)),
            ]
            .into();
            let spacing = &mut style.spacing;
            spacing.item_spacing = vec2(SPACE, 6.0);
            spacing.button_padding = vec2(9.0, 4.0);
            spacing.interact_size = vec2(36.0, 26.0);
            spacing.menu_margin = Margin::same(6);
            spacing.window_margin = Margin::same(16);
            spacing.slider_width = 120.0;
            spacing.combo_width = 96.0;
            spacing.tooltip_width = 320.0;
            spacing.combo_height = 320.0;
            style.interaction.selectable_labels = false;
            style.interaction.tooltip_delay = 0.35;
        });
    }
}

fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    for (name, bytes) in [
        ("clear-sans", include_bytes!("../../assets/fonts/ClearSans-Regular.ttf").as_slice()),
        ("clear-sans-bold", include_bytes!("../../assets/fonts/ClearSans-Bold.ttf").as_slice()),
    ] {
        fonts.font_data.insert(name.into(), Arc::new(FontData::from_static(bytes)));
    }
    let plain = fonts.families.entry(FontFamily::Proportional).or_default();
    plain.insert(0, "clear-sans".into());
    let mut heavy = plain.clone();
    heavy.insert(0, "clear-sans-bold".into());
    fonts.families.insert(bold(), heavy);
    fonts
}

fn visuals(theme: Theme, t: &Tokens) -> Visuals {
    let mut v = match theme {
        Theme::Dark => Visuals::dark(),
        Theme::Light => Visuals::light(),
    };
    v.override_text_color = None;
    v.weak_text_color = Some(t.weak);
    v.panel_fill = t.panel;
    v.window_fill = t.card;
    v.window_stroke = Stroke::new(1.0, t.hairline);
    v.window_corner_radius = CornerRadius::same(RADIUS + 3);
    v.menu_corner_radius = CornerRadius::same(RADIUS);
    v.extreme_bg_color = t.field;
    v.text_edit_bg_color = Some(t.field);
    v.faint_bg_color = t.card;
    v.code_bg_color = t.card;
    v.hyperlink_color = t.accent;
    v.warn_fg_color = t.verdict(Verdict::Caution);
    v.error_fg_color = t.verdict(Verdict::Short);
    v.selection.bg_fill = t.chosen;
    v.selection.stroke = Stroke::new(1.0, t.on_chosen);
    v.slider_trailing_fill = true;
    v.striped = false;
    let radius = CornerRadius::same(RADIUS);
    let w = &mut v.widgets;
    w.noninteractive.bg_fill = t.panel;
    w.noninteractive.weak_bg_fill = t.panel;
    w.noninteractive.bg_stroke = Stroke::new(1.0, t.hairline);
    w.noninteractive.fg_stroke = Stroke::new(1.0, t.text);
    for (widget, fill, line) in [
        (&mut w.inactive, t.button, t.outline),
        (&mut w.hovered, t.button_hover, t.text),
        (&mut w.active, t.button_hover, t.accent),
        (&mut w.open, t.button_hover, t.accent),
    ] {
        widget.bg_fill = fill;
        widget.weak_bg_fill = fill;
        widget.bg_stroke = Stroke::new(1.0, line);
        widget.fg_stroke = Stroke::new(1.4, t.text);
        widget.corner_radius = radius;
        widget.expansion = 0.0;
    }
    w.noninteractive.corner_radius = radius;
    w.inactive.bg_stroke = Stroke::new(1.0, t.hairline);
    v
}

#[cfg(test)]
mod tests {
    use super::*;

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
    fn no_two_of_the_first_28_blocks_look_alike() {
        let mut seen = std::collections::BTreeSet::new();
        for n in 0..28 {
            let looks = (DARK.block(n).to_array(), n % DASHES.len());
            assert!(seen.insert(looks), "block {n} looks like an earlier one");
        }
    }
}
