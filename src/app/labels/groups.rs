//! Marks that stand too near to each other are one mark with a count.

use std::collections::HashMap;

use eframe::egui::{Vec2, vec2};

use super::collect::{Anchor, MarkItem};
use super::ground::At;
use super::level::Level;
use super::place::{View, mark_radius, stand};
use crate::findings::Verdict;
use crate::layout::CutId;
use crate::report::Standing;

/// Cuts under one mark.
#[derive(Debug, Clone)]
pub struct Group {
    pub cuts: Vec<CutId>,
    pub anchor: Anchor,
    pub at: At,
    pub left: Vec2,
    pub worst: Option<Standing>,
}

impl Group {
    /// Size of its mark, points.
    pub fn size(&self, factor: f32) -> Vec2 {
        let side = 2.0 * mark_radius(self.worst, factor) + 5.0 * factor;
        match self.cuts.len() {
            1 => vec2(side, side),
            n => vec2(side + factor * (4.0 + 7.5 * n.to_string().len() as f32), side),
        }
    }

    fn take_in(&mut self, other: Group) {
        let weight = |standing: Option<Standing>| standing.map(Standing::verdict);
        if weight(other.worst) > weight(self.worst) {
            self.worst = other.worst;
        }
        self.cuts.extend(other.cuts);
    }
}

/// Marks that are too near to each other to be told apart are one. `marks` come by weight.
pub fn groups(view: &View<'_>, marks: &[MarkItem]) -> Vec<Group> {
    let near = f64::from(view.level.crowded()) * f64::from(view.factor);
    let mut groups: Vec<Group> = Vec::new();
    let mut heads: HashMap<(i64, i64), Vec<usize>> = HashMap::new();
    let cell = |v: f64| (v / near.max(1.0)).floor() as i64;
    let is_shown = |cut: &CutId| view.shown.contains(cut);
    let (first, then): (Vec<&MarkItem>, Vec<&MarkItem>) =
        marks.iter().partition(|mark| is_shown(&mark.cut));
    for mark in first.into_iter().chain(then) {
        let Some((at, left)) = stand(view, mark.anchor) else { continue };
        let alone = is_shown(&mark.cut);
        let clear = mark.standing.is_none_or(|s| s.verdict() == Verdict::Clear);
        if view.level == Level::Far && clear && !alone {
            continue;
        }
        let (x, y) = (cell(at[0]), cell(at[1]));
        let around = (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| (x, y)));
        let head = around.filter_map(|cell| heads.get(&cell)).flatten().copied().find(|n| {
            let head = groups[*n].at;
            (head[0] - at[0]).hypot(head[1] - at[1]) < near
        });
        let group =
            Group { cuts: vec![mark.cut], anchor: mark.anchor, at, left, worst: mark.standing };
        match head.filter(|_| !alone && near > 0.0) {
            Some(head) => groups[head].take_in(group),
            None => {
                if !alone {
                    heads.entry((x, y)).or_default().push(groups.len());
                }
                groups.push(group);
            }
        }
    }
    groups
}

/// Unites each crowded group with the one that is nearest to it.
pub fn united(groups: Vec<Group>, crowded: &[usize]) -> Vec<Group> {
    let mut slots: Vec<Option<Group>> = groups.into_iter().map(Some).collect();
    for &n in crowded {
        let Some(group) = slots[n].take() else { continue };
        let far = |other: &Group| (other.at[0] - group.at[0]).hypot(other.at[1] - group.at[1]);
        let nearest = slots
            .iter_mut()
            .flatten()
            .min_by(|a, b| far(a).total_cmp(&far(b)).then(a.cuts.first().cmp(&b.cuts.first())));
        match nearest {
            Some(nearest) => nearest.take_in(group),
            None => slots[n] = Some(group),
        }
    }
    slots.into_iter().flatten().collect()
}
