//! What is taken for the same thing in two designs, and its correction.

use eframe::egui::{ScrollArea, TextEdit, Ui};

use super::Command;
use crate::app::names::entity_name;
use crate::app::theme::{SPACE, small, strong};
use crate::compare::{Comparison, Corrections};
use crate::layout::{EntityId, Layout};

/// The old design of a comparison, and how its things are matched with those of the layout.
#[derive(Debug, Clone, PartialEq)]
pub struct OldDesign {
    /// The name of its file.
    pub file: String,
    /// Things taken for the same under two identities, with the names of both.
    pairs: Vec<Pair>,
    corrections: Corrections,
    /// Old and new identity of a further pair, as typed.
    typed: [String; 2],
}

#[derive(Debug, Clone, PartialEq)]
struct Pair {
    old: EntityId,
    new: EntityId,
    words: String,
    is_same: bool,
}

impl Pair {
    fn of([was, is]: [&Layout; 2], (old, new): (EntityId, EntityId), is_same: bool) -> Pair {
        let (here, there) = (entity_name(is, new), entity_name(was, old));
        Pair {
            old,
            new,
            words: format!("{here} ({new}) is {there} ({old}) of the old design"),
            is_same,
        }
    }
}

impl OldDesign {
    /// The old design of a comparison between two layouts. A pair that was said to be none stays in the list, unticked.
    pub fn of(
        file: &str,
        layouts: [&Layout; 2],
        (comparison, corrections): (&Comparison, &Corrections),
        known: &[(EntityId, EntityId)],
    ) -> OldDesign {
        let is_same = |pair: &(EntityId, EntityId)| comparison.matched.contains(pair);
        let mut pairs: Vec<(EntityId, EntityId)> = comparison.matched.clone();
        pairs.extend(known.iter().filter(|pair| !is_same(pair)));
        pairs.sort_by_key(|pair| (pair.1, pair.0));
        let pairs = pairs.iter().map(|pair| Pair::of(layouts, *pair, is_same(pair))).collect();
        let (file, corrections) = (file.to_owned(), corrections.clone());
        OldDesign { file, pairs, corrections, typed: Default::default() }
    }

    /// Keeps what is typed.
    pub(super) fn type_in(&mut self, typed: [String; 2]) {
        self.typed = typed;
    }

    /// The pairs in the list: old, new.
    pub fn pairs(&self) -> Vec<(EntityId, EntityId)> {
        self.pairs.iter().map(|pair| (pair.old, pair.new)).collect()
    }
}

/// The list of pairs, each to tick, and a line for a further one.
pub(super) fn matches_ui(ui: &mut Ui, old: &OldDesign, height: f32, commands: &mut Vec<Command>) {
    ScrollArea::vertical().id_salt("matches").max_height(height).auto_shrink(false).show(ui, |ui| {
        let words = match old.pairs.len() {
            0 => "Everything that both designs have is called the same in both.",
            _ => "The same by place, shape or name, though called otherwise. Take the tick away where it is not.",
        };
        ui.label(small(ui, words));
        for pair in &old.pairs {
            let mut is_same = pair.is_same;
            if ui.checkbox(&mut is_same, &pair.words).changed() {
                let mut by = old.corrections.clone();
                by.same.retain(|one| one.1 != pair.new);
                if is_same {
                    by.apart.remove(&pair.new);
                } else {
                    by.apart.insert(pair.new);
                }
                commands.push(Command::Match(by));
            }
        }
        ui.add_space(SPACE);
        further_ui(ui, old, commands);
    });
}

/// A further pair, typed.
fn further_ui(ui: &mut Ui, old: &OldDesign, commands: &mut Vec<Command>) {
    let mut typed = old.typed.clone();
    ui.horizontal_wrapped(|ui| {
        ui.label("Old");
        let mut entered = false;
        for (text, name) in typed.iter_mut().zip(["Old thing", "New thing"]) {
            if name == "New thing" {
                ui.label("is new");
            }
            let field = TextEdit::singleline(text).desired_width(70.0).hint_text("c12");
            let field = ui.add(field).accessible_name(name);
            entered |= field.lost_focus() && ui.input(|i| i.key_pressed(eframe::egui::Key::Enter));
        }
        let clicked = ui.button(strong("They are the same")).clicked();
        if typed != old.typed {
            commands.push(Command::Typed(typed.clone()));
        }
        if clicked || entered {
            let ids = typed.each_ref().map(|text| text.trim().parse::<EntityId>());
            commands.push(match ids {
                [Ok(one), Ok(other)] => {
                    let mut by = old.corrections.clone();
                    by.apart.remove(&other);
                    by.same.retain(|pair| pair.0 != one && pair.1 != other);
                    by.same.push((one, other));
                    Command::Match(by)
                }
                [Err(why), _] | [_, Err(why)] => Command::Wrong(why),
            });
        }
    });
}
