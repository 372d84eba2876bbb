//! The words of this program: what each means, in two sentences, and a widget that shows it where the word stands.

use eframe::egui::{Context, Id, Link, Response, Ui};

/// One word.
#[derive(Debug, PartialEq, Eq)]
pub struct Entry {
    /// As it is written.
    pub word: &'static str,
    /// Other words that lead to it.
    pub also: &'static str,
    /// What it means.
    pub means: &'static str,
}

const fn entry(word: &'static str, also: &'static str, means: &'static str) -> Entry {
    Entry { word, also, means }
}

/// All words, in the order of the alphabet.
pub static GLOSSARY: &[Entry] = &[
    entry(
        "agree, disagree",
        "settings",
        "Two settings agree if they carry a train on through a gap, and disagree if they do not. Settings that agree must be \
         safe at every gap; settings that disagree are for the operator to avoid.",
    ),
    entry(
        "assumed value",
        "range measured data sheet",
        "A value that nobody has measured, with the range in which it lies. Where the range decides, the verdict is \
         not known, and the finding names the value to measure.",
    ),
    entry(
        "auto-reverser",
        "reversing DCC",
        "A device that exchanges its two poles by itself when a train joins rails of opposite polarity. It needs a \
         moment of fault current to notice that.",
    ),
    entry(
        "back-EMF",
        "motor generator",
        "The voltage that a turning motor makes by itself. It opposes the voltage that drives the motor.",
    ),
    entry(
        "back-feed",
        "verdict",
        "Current that one driver pushes into another one's supply or outputs. It may do no harm at first and still \
         power what is switched off, or lift a voltage above what it bears.",
    ),
    entry(
        "block",
        "section",
        "A stretch of track whose two rails are one pair of metal from end to end. It follows from the cuts: a name is \
         only a label on it.",
    ),
    entry(
        "bond",
        "jumper wire",
        "A wire that joins two rails for good. It has no switch and no direction.",
    ),
    entry(
        "booster",
        "DCC station",
        "A driver that amplifies the signal of a DCC command station and always has full voltage on its rails. Two \
         boosters side by side have to send the same edges at the same time.",
    ),
    entry(
        "brake-low, brake-high",
        "idle state clamp",
        "An idle state in which both outputs of a bridge are switched to the same pole, the low one or the high one. The \
         two rails are then joined through the driver.",
    ),
    entry(
        "clamp",
        "idle state",
        "To hold a rail at a pole so firmly that another driver cannot move it without a large current. A driver \
         that brakes in its idle state clamps its neighbour while a train stands over the gap.",
    ),
    entry(
        "coin test",
        "trip short",
        "A dead short laid across the rails at the far end of a block, as with a coin. It shows whether the breaker or \
         the driver switches off there, or feeds the fault without end.",
    ),
    entry(
        "common rail",
        "shared return",
        "One rail that is never cut, as the return of all blocks. It works only with drivers whose supplies allow it.",
    ),
    entry(
        "conflict",
        "short share of time",
        "A moment in which two drivers hold joined rails at different voltages. Its share of the time says how much of \
         each period it lasts.",
    ),
    entry(
        "cut",
        "gap saw insulated joiner",
        "A place where a rail is interrupted: sawn, filled, or joined by an insulated joiner. Cut the left rail, the \
         right one, or both.",
    ),
    entry(
        "DCC",
        "digital",
        "Power and commands on the same rails: the polarity changes thousands of times a second, and a decoder in each \
         engine obeys its own number. Polarity then says nothing about direction.",
    ),
    entry(
        "dead section",
        "stall frog",
        "Rail that no driver feeds, such as an insulated frog. A train crosses it if its other pickups are still fed.",
    ),
    entry(
        "driver",
        "throttle booster bridge",
        "Whatever puts a voltage on the rails of a block: a PWM bridge, a smooth DC throttle, a DCC booster. It has two \
         outputs, P and M.",
    ),
    entry(
        "feed chain",
        "selector breaker fuse wire",
        "Everything between a driver and its rails: cab selectors, reversing switches, breakers, fuses, lamps, wire. Each \
         part has a resistance, and some of them act on a fault.",
    ),
    entry(
        "feed, feeder",
        "wire",
        "A pair of wires from a driver, or from a device behind it, to the two rails of a block. Which wire goes to which \
         rail decides what forward means there.",
    ),
    entry(
        "finding",
        "fault rule note",
        "One thing that is wrong or worth knowing, with its evidence and what cures it. A fault is in the wiring, a rule \
         is for operators, a note is only worth knowing.",
    ),
    entry(
        "frog",
        "turnout polarity",
        "The place in a turnout where two rails of different polarity cross. It is dead, or it has to take the polarity of \
         the road that is set.",
    ),
    entry(
        "gap card",
        "card",
        "What must match before a train crosses one gap, and what happens if it does not. Each cell is one pair of \
         settings of the two sides.",
    ),
    entry(
        "high-impedance",
        "idle state coast",
        "An idle state in which all switches of a driver are open and only its diodes conduct. Its rails then follow the \
         neighbour's voltage.",
    ),
    entry(
        "idle state",
        "PWM off part",
        "What the outputs of a driver do in the off part of each PWM period: brake-low, brake-high, high-impedance, or \
         opposed. At a gap it meets the neighbour's on part, and that can short although the throttles agree.",
    ),
    entry(
        "lineup",
        "set-up throttles points",
        "Throttles and points as they are set together for a moment of a session, under a name. Set it again with one \
         click, or check all of them.",
    ),
    entry(
        "margin",
        "threshold",
        "How far a figure is from the threshold that would change the verdict. A small margin means that a small error \
         in a value matters.",
    ),
    entry(
        "opposed",
        "idle state locked anti-phase",
        "An idle state in which the driver drives the other way in the off part of each period. Half throttle is then a \
         standstill.",
    ),
    entry(
        "P and M",
        "outputs poles plus minus",
        "The two outputs of a driver. With the setting forward P is positive; with P on the right-hand rail a train then \
         runs to the end of the run.",
    ),
    entry(
        "party",
        "driver straddle",
        "A driver whose rails a straddle joins, whichever block it feeds. Three parties can meet at one gap.",
    ),
    entry(
        "polarity",
        "plus minus",
        "Which of two rails is positive. Two blocks with equal settings have equal polarity only if their feeders go the \
         same way round.",
    ),
    entry(
        "pole",
        "supply plus minus",
        "One of the two sides of a supply. A driver switches its outputs to its poles.",
    ),
    entry(
        "power-routing",
        "frog turnout points",
        "A turnout whose points feed the frog and the road that they are set for. The other road gets the same polarity on \
         both rails, or none.",
    ),
    entry(
        "PWM",
        "pulse width throttle",
        "A throttle that switches full voltage on and off many times a second. The share of on time is the speed.",
    ),
    entry(
        "reversing loop",
        "return loop wye",
        "Track on which a train comes back the other way round, so that its two rails meet exchanged. It needs a reversing \
         section.",
    ),
    entry(
        "reversing section",
        "loop wye turntable",
        "A block that can be matched to the polarity at either of its ends, with both rails cut at both. It must be longer \
         than all of a train that can bridge a gap.",
    ),
    entry(
        "run",
        "track",
        "A piece of track between two joints as it is drawn. Left and right are seen from its start.",
    ),
    entry(
        "selector",
        "points switch position",
        "Anything with positions that joins rail or wire: points, a turntable, a cab selector, a reversing switch. The \
         check tries every position that matters at a place.",
    ),
    entry(
        "shared negative",
        "common ground isolated supply",
        "The negative poles of several supplies joined: on purpose, by one board, or by a lead to a computer. One bridged \
         rail is then enough for current to flow.",
    ),
    entry(
        "short",
        "verdict",
        "Current with almost nothing in its way, enough to trip a breaker or to heat a wire. It flows as long as the train \
         joins the rails, or until something acts.",
    ),
    entry(
        "stagger",
        "cut",
        "How much farther along the run the right rail is cut than the left. A train joins one rail before the other \
         there.",
    ),
    entry(
        "stall",
        "verdict dead",
        "A place where an engine gets no current and stops. The cause is a dead rail, or two sides that cancel.",
    ),
    entry(
        "standing short",
        "no train",
        "A short with no train on the track, in some position of points and switches. A missing cut is the usual cause.",
    ),
    entry(
        "straddle",
        "bridge gap wheels",
        "A vehicle over a cut, its pickups on both sides: it joins rails that the cut keeps apart. Everything that the \
         check says about a gap is about straddles.",
    ),
    entry(
        "transfer section",
        "DCC DC",
        "A block between two systems that is switched to one or the other, and is longer than the train. No wheel then \
         joins the two.",
    ),
    entry(
        "trip",
        "breaker fuse current limit",
        "The current at which a driver, a breaker or a fuse acts, and the way in which it measures that. A fast trip sees a \
         peak that a slow one averages away.",
    ),
    entry(
        "verdict",
        "clear caution overload",
        "What the check says of a place: clear, caution, not known, stall, back-feed, overload, short. The worst one \
         counts.",
    ),
];

/// The entry of a word, as it is written or as one of the words of its name.
pub fn find(word: &str) -> Option<&'static Entry> {
    let named =
        |entry: &&Entry| entry.word == word || entry.word.split(", ").any(|one| one == word);
    GLOSSARY.iter().find(named)
}

impl Entry {
    /// Whether it answers to all words that were typed.
    pub fn answers(&self, text: &str) -> bool {
        let about = format!("{} {} {}", self.word, self.also, self.means).to_lowercase();
        text.to_lowercase().split_whitespace().all(|word| about.contains(word))
    }
}

/// A word of the program in a line of text: shows what it means under the pointer or with the focus, and leads to the
/// glossary.
pub fn term(ui: &mut Ui, word: &'static str) -> Response {
    let means = find(word).map_or("", |entry| entry.means);
    let response = ui.add(Link::new(word)).on_hover_text(means);
    let response = response.accessible_name(format!("What is meant: {word}"));
    if response.has_focus() && !response.hovered() {
        response.show_tooltip_ui(|ui| {
            ui.set_max_width(ui.spacing().tooltip_width);
            ui.label(means);
        });
    }
    if response.clicked() {
        ui.data_mut(|data| data.insert_temp(asked_id(), word));
    }
    response
}

fn asked_id() -> Id {
    Id::unique("word that was asked for")
}

/// The word that somebody asked for since this was called last.
pub fn asked(ctx: &Context) -> Option<&'static str> {
    ctx.data_mut(|data| data.remove_temp::<&'static str>(asked_id()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_word_stands_once_in_order_and_has_two_sentences() {
        for pair in GLOSSARY.windows(2) {
            let [a, b] = [pair[0].word.to_lowercase(), pair[1].word.to_lowercase()];
            assert!(a < b, "{a} before {b}");
        }
        for entry in GLOSSARY {
            let ends = entry.means.matches(". ").count() + usize::from(entry.means.ends_with('.'));
            assert_eq!(ends, 2, "{}: {}", entry.word, entry.means);
        }
    }

    #[test]
    fn a_word_of_a_pair_leads_to_both() {
        assert_eq!(find("disagree").unwrap().word, "agree, disagree");
        assert!(find("feeder").is_some() && find("no such word").is_none());
    }
}
