//! egui in the window's faces, sizes and colours.

use std::sync::Arc;

use eframe::egui::{
    self, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Margin, Stroke, TextStyle,
    Theme, Visuals, vec2,
};

use super::tokens::{DARK, LIGHT, Tokens};
use super::{RADIUS, SPACE, bold};
use crate::findings::Verdict;

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
        ("clear-sans", include_bytes!("../../../assets/fonts/ClearSans-Regular.ttf").as_slice()),
        ("clear-sans-bold", include_bytes!("../../../assets/fonts/ClearSans-Bold.ttf").as_slice()),
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

pub(super) fn visuals(theme: Theme, t: &Tokens) -> Visuals {
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
