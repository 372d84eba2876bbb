//! The layout before and after a plan, side by side, without touching it.

use std::collections::BTreeSet;

use eframe::egui::{
    Align2, Context, Frame, Id, Key, Label, Modal, Modifiers, Painter, Rect, ScrollArea, Sense, Ui,
    Vec2, WidgetInfo, vec2,
};

use super::matches::{self, OldDesign};
use super::search::{Compared, Design};
use super::tables::{self, Tables};
use super::{Command, Plan};
use crate::app::App;
use crate::app::camera::Camera;
use crate::app::derived::Derived;
use crate::app::labels::Labels;
use crate::app::marks::{mark_ui, verdict_mark};
use crate::app::paint::{Places, Scene};
use crate::app::theme::{SPACE, TIGHT, heading, small, strong, tokens};
use crate::compare::{Corrections, told};
use crate::findings::{Class, Finding, Report, Verdict, same_in_both, words};
use crate::layout::{Layout, shown};
use crate::report::{Tally, Units};

/// Size of the letters in a room against those at a desk.
const LARGER: f32 = 1.5;

/// One side of the comparison.
struct Side {
    layout: Layout,
    derived: Derived,
    tally: Tally,
    /// Faults and rules, worst first: whether the other side has it too, class, verdict, headline.
    lines: Vec<(bool, Class, Verdict, String)>,
}

impl Side {
    /// `kept` has the indices of the findings that the other side has too.
    fn of(
        layout: Layout,
        (report, kept): (&Report, &BTreeSet<usize>),
        before: &Derived,
        units: Units,
    ) -> Side {
        let line = |(n, finding): (usize, &Finding)| {
            let says = shown(&words(finding, report, &layout, units).says).into_owned();
            (kept.contains(&n), finding.class, finding.verdict, says)
        };
        let findings = report.findings.iter().enumerate();
        let lines = findings.filter(|(_, f)| f.class != Class::Note).map(line).collect();
        let derived = Derived::after(&layout, before);
        Side { derived, tally: Tally::of(report), lines, layout }
    }
}

/// A layout before and after a plan.
pub struct Trial {
    plan: Plan,
    before: Side,
    after: Side,
    /// Faults that are left, with the reason.
    leaves: Vec<String>,
    /// A remark on the plan.
    remark: Option<&'static str>,
    /// Revision of the layout that it is about.
    revision: u64,
    /// The old design, where two designs are compared.
    old: Option<OldDesign>,
    /// Content below the plans.
    pub(super) below: Below,
    pub(super) tables: Tables,
}

/// Content below the two plans.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Below {
    /// Findings of both sides, and the work.
    #[default]
    Findings,
    /// Every train against every gap.
    Trains,
    /// The values that the verdicts rest on.
    Values,
    /// Things that are the same in both designs.
    Matches,
}

impl Trial {
    /// The two sides with their titles.
    fn sides(&self) -> [(&Side, &'static str); 2] {
        let [first, second] = if self.old.is_some() { ["Old", "New"] } else { ["Before", "After"] };
        [(&self.before, first), (&self.after, second)]
    }

    /// The old design, where two designs are compared.
    pub(super) fn old_mut(&mut self) -> Option<&mut OldDesign> {
        self.old.as_mut()
    }

    /// The design that is compared with, to be matched with other corrections.
    pub(super) fn design(&self, corrections: Corrections) -> Option<Design> {
        let design = self.old.as_ref()?;
        let (old, file) = (self.before.layout.clone(), design.file.clone());
        Some(Design { old, file, corrections, known: design.pairs() })
    }

    /// A comparison as it is shown.
    fn of(app: &App, two: Compared) -> Trial {
        let units = app.settings.units();
        let Compared { plan, old, was, before, after, report, leaves, remark } = two;
        let tables = Tables::of([&was, &after], [&before, &report]);
        let pairs = same_in_both(&told(&before), &told(&report));
        let kept: [BTreeSet<usize>; 2] =
            [pairs.iter().map(|p| p.0).collect(), pairs.iter().map(|p| p.1).collect()];
        let before = Side::of(was, (&before, &kept[0]), &app.derived, units);
        let after = Side::of(after, (&report, &kept[1]), &app.derived, units);
        let below = app.trial.as_ref().map_or(Below::default(), |trial| trial.below);
        let revision = app.doc.revision();
        Trial { plan, before, after, leaves, remark, revision, old, below, tables }
    }
}

/// The comparison, while one is open.
pub fn trial_ui(ctx: &Context, app: &mut App) {
    match app.cures.take_compared(app.doc.revision()) {
        Some(Ok(two)) => app.trial = Some(Trial::of(app, *two)),
        Some(Err((why, true))) => app.tell_bad(why),
        Some(Err((why, false))) => app.tell(why),
        None => {}
    }
    // Whatever changes the layout ends the comparison: it would be about another one.
    if app.trial.as_ref().is_some_and(|trial| trial.revision != app.doc.revision()) {
        app.trial = None;
    }
    let Some(trial) = &app.trial else { return };
    // The review edits nothing by accident; a design that exists has nothing to apply.
    let in_review = app.review.shown;
    let may_apply = !in_review && trial.old.is_none();
    let mut commands = Vec::new();
    let room = ctx.content_rect().size() - vec2(48.0, 48.0);
    let frame = Frame::window(&ctx.global_style()).inner_margin(14);
    let modal = Modal::new(Id::unique("before and after")).frame(frame).show(ctx, |ui| {
        ui.set_width(room.x - 28.0);
        ui.set_height(room.y - 28.0);
        if in_review {
            for font in ui.style_mut().text_styles.values_mut() {
                font.size *= LARGER;
            }
        }
        content_ui(ui, trial, (room, may_apply, in_review), &mut commands);
    });
    let enter = may_apply && ctx.input_mut(|i| i.consume_key(Modifiers::COMMAND, Key::Enter));
    if enter {
        commands.push(Command::Apply(trial.plan.clone()));
    } else if modal.should_close() {
        commands.push(Command::Close);
    }
    app.cure(commands);
}

fn content_ui(
    ui: &mut Ui,
    trial: &Trial,
    (room, may_apply, in_review): (Vec2, bool, bool),
    commands: &mut Vec<Command>,
) {
    ui.horizontal(|ui| match &trial.old {
        Some(OldDesign { file, .. }) => {
            ui.label(heading("Old and new"));
            ui.label(small(
                ui,
                format!("The old design is {}, the new one this layout.", shown(file)),
            ));
        }
        None => {
            ui.label(heading("Before and after"));
            let words = match in_review {
                true => "The layout stays as it is.",
                false => "The layout is as it was until you apply the changes.",
            };
            ui.label(small(ui, words));
        }
    });
    let plans = (room.y * 0.36).clamp(120.0, 420.0);
    ui.columns(2, |columns| {
        let sides = trial.sides();
        for (ui, (side, title)) in columns.iter_mut().zip(sides) {
            ui.label(strong(format!("{title}: {}", side.tally.words())));
            plan_ui(ui, side, title, plans);
        }
    });
    ui.horizontal(|ui| {
        for (below, words) in [
            (Below::Findings, "Findings and work"),
            (Below::Trains, "Trains at the gaps"),
            (Below::Values, "What the verdicts rest on"),
            (Below::Matches, "What is the same"),
        ] {
            if below == Below::Matches && trial.old.is_none() {
                continue;
            }
            if ui.selectable_label(trial.below == below, words).clicked() {
                commands.push(Command::Below(below));
            }
        }
    });
    let left = (ui.available_height() - 44.0).max(40.0);
    match (trial.below, &trial.old) {
        (Below::Trains, _) => tables::trains_ui(ui, &trial.tables, left),
        (Below::Values, _) => tables::values_ui(ui, &trial.tables, left),
        (Below::Matches, Some(old)) => matches::matches_ui(ui, old, left, commands),
        (Below::Findings, _) | (Below::Matches, None) => {
            findings_ui(ui, trial, room.y * 0.22, left);
        }
    }
    ui.add_space(TIGHT);
    ui.horizontal(|ui| {
        if !may_apply {
            let words = if in_review { "Back to the review" } else { "Close" };
            if ui.button(words).on_hover_text("Escape").clicked() {
                commands.push(Command::Close);
            }
            return;
        }
        let apply = ui.button("Apply to the layout").on_hover_text("Ctrl+Enter. One step of undo.");
        if apply.clicked() {
            commands.push(Command::Apply(trial.plan.clone()));
        }
        if ui.button("Leave it as it is").on_hover_text("Escape").clicked() {
            commands.push(Command::Close);
        }
    });
}

/// Findings of both sides, and the work from one to the other.
fn findings_ui(ui: &mut Ui, trial: &Trial, list: f32, height: f32) {
    let top = ui.cursor().top();
    let list = list.max(90.0);
    ui.columns(2, |columns| {
        lines_ui(&mut columns[0], "Ends: ", &trial.before, list);
        lines_ui(&mut columns[1], "New: ", &trial.after, list);
    });
    ui.add_space(SPACE);
    let left = (top + height - ui.cursor().top()).max(40.0);
    ScrollArea::vertical().id_salt("jobs").max_height(left).auto_shrink([false, true]).show(
        ui,
        |ui| {
            let (jobs, minutes) = (trial.plan.says.len(), trial.plan.minutes);
            let word = if jobs == 1 { "job" } else { "jobs" };
            ui.label(strong(format!("{jobs} {word}, about {minutes} min")));
            for (n, line) in trial.plan.says.iter().enumerate() {
                ui.add(Label::new(format!("{}. {line}", n + 1)).wrap());
            }
            for line in &trial.plan.also {
                ui.add(Label::new(small(ui, line)).wrap());
            }
            for line in &trial.leaves {
                ui.add(Label::new(small(ui, format!("Left: {line}"))).wrap());
            }
            if let Some(remark) = trial.remark {
                ui.add(Label::new(small(ui, remark)).wrap());
            }
            ui.add(
                Label::new(small(
                    ui,
                    "Before you change wires, cut or solder, switch all supplies off.",
                ))
                .wrap(),
            );
        },
    );
}

/// The plan of one side, with verdict marks at the gaps that are not clear.
fn plan_ui(ui: &mut Ui, side: &Side, title: &str, height: f32) {
    let size = vec2(ui.available_width(), height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let t = tokens(ui);
    let said = format!("Plan {}: {}", title.to_lowercase(), side.tally.words());
    response.widget_info(|| WidgetInfo::labeled(eframe::egui::Role::Image, true, &said));
    ui.painter().rect_filled(rect, 4.0, t.canvas);
    let mut camera = Camera::default();
    if let Some((low, high)) = side.derived.bounds() {
        camera.fit(rect, low, high);
    }
    let painter = ui.painter_at(rect);
    let places = Places { camera, canvas: rect, layout: &side.layout, derived: &side.derived };
    let labels = Labels::default();
    Scene {
        painter: painter.clone(),
        places,
        labels: &labels,
        factor: 1.0,
        rounds: &[],
        selection: &[],
        hovered: None,
        preview: None,
        pointer: None,
        focused: false,
        tokens: t,
    }
    .paint();
    marks(&painter, side, places, rect, t);
}

/// Marks at gaps that are not clear. With no gap at fault, a word says so.
fn marks(
    painter: &Painter,
    side: &Side,
    places: Places,
    rect: Rect,
    t: &crate::app::theme::Tokens,
) {
    let mut marked = 0;
    for cut in side.layout.cuts.values() {
        let verdict = side.tally.standing(cut.id).map_or(Verdict::Clear, |s| s.verdict());
        if verdict == Verdict::Clear {
            continue;
        }
        if let Some((at, _)) = places.placed(cut.run, cut.at_mm) {
            verdict_mark(painter, at, 9.0, verdict, t);
            marked += 1;
        }
    }
    if marked == 0 {
        let at = rect.left_top() + vec2(8.0, 8.0);
        let font = eframe::egui::FontId::proportional(12.0);
        painter.text(at, Align2::LEFT_TOP, "No gap is at fault.", font, t.weak);
    }
}

/// Faults and rules of one side. Findings that the other side does not have are marked in words.
fn lines_ui(ui: &mut Ui, apart: &str, side: &Side, height: f32) {
    ScrollArea::vertical().id_salt(apart).max_height(height).auto_shrink(false).show(ui, |ui| {
        if side.lines.is_empty() {
            ui.label("No fault and no operating rule.");
        }
        for (kept, class, verdict, says) in &side.lines {
            ui.horizontal_top(|ui| {
                if *class == Class::Fault {
                    mark_ui(ui, *verdict, 7.0);
                } else {
                    ui.label(small(ui, "rule"));
                }
                let apart = if *kept { "" } else { apart };
                ui.add(Label::new(format!("{apart}{says}")).wrap());
            });
        }
    });
}
