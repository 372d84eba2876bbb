//! Track that leads back onto itself the other way round, in words.

use crate::findings::words::{and, capital, gap_name};
use crate::findings::{
    BlockId, EndsApart, Kind, Longest, LoopSections, Reversal, Round, Text, Unfit, Verdict, Way,
    Words,
};
use crate::layout::{CutId, SpecialId};

/// Runs of a loop that are named one by one.
const MOST_RUNS: usize = 12;
/// Sets of blocks that are named one by one.
const MOST_SETS: usize = 6;

impl Words<'_> {
    pub(crate) fn loop_without_room(&self, round: &Round, longest: &Longest) -> Text {
        let around = self.around(round);
        let needs = format!(
            "Leave more than {} of track that trains run over between the two cuts: {}.",
            self.units.mm(longest.mm),
            self.bridges(longest)
        );
        if self.finding.kind == Kind::LoopUncut {
            let fed = self.finding.verdict == Verdict::Short;
            return Text {
 more: String::new(),
                says: format!(
                    "{}: the track comes back onto itself the other way round with no gap{}",
                    self.blocks_named(&self.finding.blocks),
                    if fed { ": a standing short" } else { "" }
                ),
                why: format!(
                    "{around} It comes back on the other rail, so that the metal of one rail is also that of the other{}.",
                    if fed { ": whatever feeds it is shorted without any train" } else { "" }
                ),
                advice: vec![
                    "Cut both rails in two places on it, so that a block between them can be a reversing section.".into(),
                    needs,
                ],
            };
        }
        let (where_cut, more) = match (&round.cuts[..], round.one_rail.is_empty()) {
            ([], _) => (
                "nowhere are both of its rails cut at one place".to_owned(),
                "Cut both rails, each pair at one place, in two places on it.".to_owned(),
            ),
            (cuts, _) => (
                format!("both rails are cut only at {}", self.cuts(cuts)),
                format!("Cut both rails a second time on it, away from {}.", self.cuts(cuts)),
            ),
        };
        Text {
            more: String::new(),
            says: format!(
                "{}: a loop with one cut; it needs a second",
                self.blocks_named(&self.finding.blocks)
            ),
            why: format!(
                "{around} It comes back on the other rail, and {where_cut}. On both sides of that cut lies one and the same \
                 block, opposite to itself: reversing it reverses both sides, so no switch, auto-reverser or throttle \
                 cures it."
            ),
            advice: vec![more, needs],
        }
    }

    pub(crate) fn sections(&self, told: &LoopSections) -> Text {
        if let Some(table) = told.turntable {
            return self.turntable(told, table);
        }
        let count = match &told.rounds[..] {
            [_] => "a loop leads back onto itself the other way round".to_owned(),
            rounds => {
                format!("{} loops lead back onto themselves the other way round", rounds.len())
            }
        };
        let says = match (&told.reversed[..], &told.sets[..]) {
            ([], []) => {
                format!("{}: {count}, and no block can be a reversing section", self.some_blocks())
            }
            ([], sets) => format!("{}: {count}; nothing reverses it", self.one_of(sets)),
            (reversed, _) => {
                format!("{count}; {} the reversing section", are(&self.with_reversals(reversed)))
            }
        };
        let mut why: Vec<String> =
            told.rounds.iter().take(3).map(|round| self.around(round)).collect();
        if told.rounds.len() > 3 {
            why.push(format!("{} more are shown on the plan.", told.rounds.len() - 3));
        }
        why.push("A train that goes once round stands on the rails the other way round.".into());
        why.push(self.choices(told));
        let unfit: Vec<String> =
            told.unfit.iter().map(|(id, why)| self.unfit(*id, *why, told)).collect();
        if !unfit.is_empty() {
            why.push(format!("Not {}.", unfit.join("; not ")));
        }
        let mut advice = Vec::new();
        match (&told.reversed[..], &told.sets[..]) {
            ([], []) => advice.push(format!(
                "Move the cuts, or cut anew, so that a block on it has more than {} between its ends.",
                self.units.mm(told.longest.mm)
            )),
            ([], _) => advice.push(
                "Feed the section through a reversing switch of its own, from a driver of its own, or on DCC through an \
                 auto-reverser."
                    .into(),
            ),
            _ => {}
        }
        if !told.sets.is_empty() {
            let section = match &told.reversed[..] {
                [] => "the section".to_owned(),
                reversed => self.blocks_named(&reversed.iter().map(|r| r.0).collect::<Vec<_>>()),
            };
            let by_itself = told.reversed.iter().any(|(_, by)| by.rank() < 2);
            advice.extend(operating(&section, told.fed_by, by_itself));
        }
        Text { more: String::new(), says, why: why.join(" "), advice }
    }

    /// Which blocks can be the sections.
    fn choices(&self, told: &LoopSections) -> String {
        let named: Vec<String> =
            told.sets.iter().take(MOST_SETS).map(|set| self.set(set, told)).collect();
        let mut text = match &named[..] {
            [] if told.exhaustive => "No set of blocks can be reversing sections here.".to_owned(),
            [] => "No set of blocks was found that can be reversing sections here.".to_owned(),
            [one] => format!("The reversing section can be {one}."),
            [first @ .., last] => {
                format!("The reversing section can be {}, or {last}.", first.join(", or "))
            }
        };
        if told.sets.len() > MOST_SETS {
            text.push_str(&format!(
                " There are {} more such choices.",
                told.sets.len() - MOST_SETS
            ));
        } else if !told.all && told.exhaustive {
            text.push_str(" There are more such choices.");
        }
        if !told.exhaustive {
            text.push_str(
                " The search was broken off: there may be choices with fewer sections than these.",
            );
        }
        text
    }

    fn set(&self, set: &[BlockId], told: &LoopSections) -> String {
        let one = |id: &BlockId| match told.apart.get(id) {
            Some(ends) => format!(
                "{} ({} between its ends{}, of which {} can be bridged)",
                self.block_name(*id),
                self.units.mm(ends.mm),
                if ends.across { " across its neighbours" } else { "" },
                self.units.mm(told.longest.mm)
            ),
            None => self.block_name(*id),
        };
        and(&set.iter().map(one).collect::<Vec<_>>())
    }

    fn unfit(&self, id: BlockId, why: Unfit, told: &LoopSections) -> String {
        match why {
            Unfit::Shares => {
                format!("{}, which shares a rail with another block there", self.block_name(id))
            }
            Unfit::Short(ends) => format!(
                "{}, two ends of which are {} apart{}, while {}",
                self.block_name(id),
                self.units.mm(ends.mm),
                if ends.across { " across its neighbours" } else { "" },
                self.bridges(&told.longest)
            ),
        }
    }

    /// Half a turn of a bridge.
    fn turntable(&self, told: &LoopSections, table: SpecialId) -> Text {
        let name = self.special(table);
        let (says, mut advice) = match &told.reversed[..] {
            [] => (
                format!("{name}: half a turn exchanges the bridge's rails, and nothing reverses its feed"),
                vec![
                    "Let the turntable exchange the bridge's rails by itself, or feed the bridge through a reversing switch, \
                     a driver or an auto-reverser of its own."
                        .to_owned(),
                ],
            ),
            reversed => (
                format!(
                    "{name}: half a turn exchanges the bridge's rails; {} the reversing section",
                    are(&self.with_reversals(reversed))
                ),
                Vec::new(),
            ),
        };
        if told.reversed.iter().all(|(_, by)| by.rank() > 1) {
            advice.push(
                "Before a locomotive drives onto the bridge, match the bridge to the road that it comes from; when the bridge \
                 stands at the next road, match that road to the bridge (on DC), or the bridge to that road (on DCC), \
                 before it drives off."
                    .into(),
            );
        }
        Text {
 more: String::new(),
            says: capital(&says),
            why: "A road that is reached again after half a turn meets the bridge's other end, its left rail where its right \
                  rail was. The gaps between the bridge and its roads are open in both rails, so the bridge by itself is the \
                  section; what fits on it cannot bridge both ends at once."
                .into(),
            advice,
        }
    }

    pub(crate) fn too_short(&self, apart: EndsApart, longest: &Longest, reversing: bool) -> Text {
        let block = self.block(0);
        let across = if apart.across { " across its neighbours" } else { "" };
        if !reversing {
            return Text {
                more: String::new(),
                says: format!("{block} is shorter than {} stands long", self.who(longest)),
                why: format!(
                    "Two of its ends are {} apart, and the joined pickups of {} reach over {}: standing over it they join the \
                     blocks on both sides of it.",
                    self.units.mm(apart.mm),
                    self.who(longest),
                    self.units.mm(longest.mm)
                ),
                advice: vec![format!(
                    "Make it longer than {}, or see that the blocks on both sides agree whenever it is passed.",
                    self.units.mm(longest.mm)
                )],
            };
        }
        Text {
 more: String::new(),
            says: format!(
                "{block} is too short for a reversing section: {} between its ends{across}, {} can be bridged",
                self.units.mm(apart.mm),
                self.units.mm(longest.mm)
            ),
            why: format!(
                "{}. So its wheels can bridge two ends of {block} at once, and one of them is the wrong way round however it \
                 is set: a short. {} are missing.",
                capital(&self.bridges(longest)),
                self.units.mm(longest.mm - apart.mm)
            ),
            advice: vec![
                format!(
                    "Move its cuts until more than {} of track lie between any two of them, as a train runs.",
                    self.units.mm(longest.mm)
                ),
                "Or let no train through there that is longer than that from its first to its last metal wheels."
                    .into(),
            ],
        }
    }

    /// "the Night goods reaches 1240 mm from its first to its last metal wheels"
    fn bridges(&self, longest: &Longest) -> String {
        format!(
            "{} reaches {} from its first to its last metal wheels",
            self.who(longest),
            self.units.mm(longest.mm)
        )
    }

    fn who(&self, longest: &Longest) -> String {
        match longest.train {
            None => self.vehicle(longest.vehicle),
            Some(id) => match self.layout.trains.get(&id) {
                Some(train) if !train.name.is_empty() => format!("the {}", train.name),
                _ => format!("train {id}"),
            },
        }
    }

    fn special(&self, id: SpecialId) -> String {
        match self.layout.specials.get(&id) {
            Some(special) if !special.name.is_empty() => special.name.clone(),
            Some(special) => format!("{} {id}", special.work.word()),
            None => id.to_string(),
        }
    }

    fn with_reversals(&self, reversed: &[(BlockId, Reversal)]) -> Vec<String> {
        let one = |(block, by): &(BlockId, Reversal)| {
            let by = match *by {
                Reversal::Bridge(_) => "exchanged by the turntable itself".to_owned(),
                Reversal::AutoReverser(id) | Reversal::Switch(id) => {
                    format!("through {}", self.device(id))
                }
                Reversal::Driver(id) => format!("by {}", self.driver(id)),
            };
            format!("{} ({by})", self.block_name(*block))
        };
        reversed.iter().map(one).collect()
    }

    fn blocks_named(&self, ids: &[BlockId]) -> String {
        and(&ids.iter().map(|&id| self.block_name(id)).collect::<Vec<_>>())
    }

    fn some_blocks(&self) -> String {
        match &self.finding.blocks[..] {
            blocks if blocks.len() <= 4 => self.blocks_named(blocks),
            blocks => format!("{} and {} more", self.blocks_named(&blocks[..3]), blocks.len() - 3),
        }
    }

    fn one_of(&self, sets: &[Vec<BlockId>]) -> String {
        match sets {
            [one] => self.blocks_named(one),
            _ => sets
                .iter()
                .take(3)
                .map(|set| self.blocks_named(set))
                .collect::<Vec<_>>()
                .join(" or "),
        }
    }

    fn cuts(&self, cuts: &[CutId]) -> String {
        let name = |id: &CutId| {
            let cut = self.report.cuts.iter().find(|cut| cut.id == *id);
            gap_name(&cut.map_or_else(|| id.to_string(), |cut| cut.name.clone()))
        };
        and(&cuts.iter().map(name).collect::<Vec<_>>())
    }

    /// Where a loop leads.
    fn around(&self, round: &Round) -> String {
        let mut runs: Vec<String> = Vec::new();
        for along in &round.along {
            let run = match along.way {
                Way::Forward => format!("over {}", along.run),
                Way::Backward => format!("over {} backwards", along.run),
                Way::AtStart => format!("past the start of {}", along.run),
                Way::AtEnd => format!("past the end of {}", along.run),
            };
            if runs.last() != Some(&run) {
                runs.push(run);
            }
        }
        if runs.len() > 1 && runs.first() == runs.last() {
            runs.pop();
        }
        let more = runs.len().saturating_sub(MOST_RUNS);
        runs.truncate(MOST_RUNS);
        if more > 0 {
            runs.push(format!("{more} more runs"));
        }
        let mut text = format!(
            "Once round, {}, the loop leads {}",
            self.units.mm(round.length_mm),
            and(&runs)
        );
        if !round.cuts.is_empty() {
            text.push_str(&format!(", through {}", self.cuts(&round.cuts)));
        }
        if !round.one_rail.is_empty() {
            text.push_str(&format!(
                ", and through {} in one rail only",
                self.cuts(&round.one_rail)
            ));
        }
        text.push('.');
        text
    }
}

fn are(names: &[String]) -> String {
    format!("{} {}", and(names), if names.len() == 1 { "is" } else { "are together" })
}

/// How a reversing section is operated.
fn operating(section: &str, [dc, dcc]: [bool; 2], by_itself: bool) -> Vec<String> {
    let mut lines = Vec::new();
    if dc || !dcc {
        lines.push(format!(
            "{}1. Before a train enters {section}, match {section} to the line that it comes from.",
            if dcc { "On DC: " } else { "" }
        ));
        lines.push(format!(
            "2. Wait until the whole train is inside, to its last metal wheels. Do not reverse {section} now: on DC that \
             reverses the train."
        ));
        lines.push(format!(
            "3. Reverse the line ahead, so that it matches {section}, and let the train out."
        ));
    }
    if dcc {
        lines.push(if by_itself {
            format!("{}{section} flips by itself when the first wheels bridge its end; trains run on.", if dc { "On DCC: " } else { "" })
        } else {
            format!(
                "{}Flip {section} between the train's entry and its exit, while it stands wholly inside; on DCC that does not \
                 reverse it.",
                if dc { "On DCC: " } else { "" }
            )
        });
    }
    lines
}
