//! Random track: lines, ovals, balloons, sidings, crossovers, diamonds, turntables, grown from one end to the next.

use std::collections::BTreeMap;

use gapwright::layout::*;

use super::dice::Dice;

/// An end of track that something can be joined to.
#[derive(Debug, Clone, Copy)]
pub struct Tip {
    joint: JointId,
    end: TrackEnd,
    x: f64,
    y: f64,
    /// Direction in which one leaves the track here, degrees counter-clockwise from the right.
    heading: f64,
    /// True if one leaves the track in its forward direction.
    forward: bool,
}

/// Track while it is laid.
pub struct Ground {
    /// What is laid.
    pub layout: Layout,
    /// True where the forward direction of a run is from its start to its end.
    pub forward: BTreeMap<RunId, bool>,
    /// Ends that nothing is joined to.
    pub tips: Vec<Tip>,
}

impl Ground {
    /// A number that nothing has.
    pub fn fresh(&mut self) -> u32 {
        self.layout.next_id += 1;
        self.layout.next_id - 1
    }

    fn joint(&mut self, dice: &mut Dice, x_mm: f64, y_mm: f64) -> JointId {
        let id = JointId(self.fresh());
        let joiners = *dice.pick(&[Joiners::Soldered, Joiners::Plain, Joiners::Bonded]);
        self.layout.joints.insert(id, Joint { id, x_mm, y_mm, joiners });
        id
    }

    fn run(
        &mut self,
        dice: &mut Dice,
        [from, to]: [JointId; 2],
        shape: Shape,
        forward: bool,
    ) -> [TrackEnd; 2] {
        let id = RunId(self.fresh());
        let backwards = dice.percent(40);
        let (ends, shape) = if backwards {
            ([RunEnd::End, RunEnd::Start], super::redrawn::backwards(shape))
        } else {
            ([RunEnd::Start, RunEnd::End], shape)
        };
        let (from, to) = if backwards { (to, from) } else { (from, to) };
        let length_mm = dice.percent(25).then(|| dice.between(420.0, 1400.0).round());
        self.layout.runs.insert(id, Run { id, from, to, shape, length_mm });
        self.forward.insert(id, forward != backwards);
        ends.map(|end| TrackEnd { run: id, end })
    }

    /// Lays a run from a joint; returns its near end and the tip at its far end.
    fn lay(
        &mut self,
        dice: &mut Dice,
        (joint, x, y): (JointId, f64, f64),
        heading: f64,
        forward: bool,
    ) -> (TrackEnd, Tip) {
        let length = dice.between(420.0, 1100.0).round();
        let bend = if dice.percent(30) { *dice.pick(&[30.0, -30.0, 60.0, -60.0]) } else { 0.0 };
        let turn = f64::to_radians(bend);
        let chord = if bend == 0.0 { length } else { 2.0 * length / turn * (turn / 2.0).sin() };
        let along = (heading + bend / 2.0).to_radians();
        let (to_x, to_y) = (x + chord * along.cos(), y + chord * along.sin());
        let shape = if bend == 0.0 { Shape::Straight } else { Shape::Arc { bend_deg: bend } };
        let far = self.joint(dice, to_x, to_y);
        let [near, end] = self.run(dice, [joint, far], shape, forward);
        let heading = heading + bend;
        (near, Tip { joint: far, end, x: to_x, y: to_y, heading, forward })
    }

    /// A first run somewhere, with both its ends free.
    pub fn begin(&mut self, dice: &mut Dice, x: f64, y: f64, heading: f64) {
        let joint = self.joint(dice, x, y);
        let (end, far) = self.lay(dice, (joint, x, y), heading, true);
        let heading = heading + 180.0;
        self.tips.push(Tip { joint, end, x, y, heading, forward: false });
        self.tips.push(far);
    }

    /// Takes the tip at an index.
    pub fn take(&mut self, at: usize) -> Tip {
        self.tips.remove(at)
    }

    /// Lays on from a tip.
    pub fn extend(&mut self, dice: &mut Dice, tip: Tip) {
        let (_, far) = self.lay(dice, (tip.joint, tip.x, tip.y), tip.heading, tip.forward);
        self.tips.push(far);
    }

    fn special(&mut self, dice: &mut Dice, work: Work) -> SpecialId {
        let id = SpecialId(self.fresh());
        let position = dice.below(work.positions() as usize) as u32;
        let frogs = work.fed_frogs();
        let mut contact = Contact::default();
        if frogs > 0 {
            contact.before_points = dice.percent(20);
            contact.open_between = dice.percent(30);
            contact.position =
                dice.percent(10).then(|| dice.below(work.positions() as usize) as u32);
            if dice.percent(10) {
                contact.sources = self.sources(dice, &work);
            }
        }
        let special = Special {
            id,
            name: format!("Works {}", id.0),
            work,
            position,
            contact,
            gang: String::new(),
            notes: String::new(),
        };
        self.layout.specials.insert(id, special);
        id
    }

    /// Contacts that are wired somehow: each frog takes its polarity from a rail of the first road.
    fn sources(&self, dice: &mut Dice, work: &Work) -> Vec<Vec<Spot>> {
        let end = work.ends()[0];
        let run = &self.layout.runs[&end.run];
        let at_mm = length_mm(&self.layout, run) / 2.0;
        let place = |dice: &mut Dice| {
            let rail = *dice.pick(&Rail::BOTH);
            Spot { run: run.id, at_mm, rail }
        };
        let frogs = work.fed_frogs();
        (0..frogs).map(|_| (0..work.positions()).map(|_| place(dice)).collect()).collect()
    }

    fn frog(dice: &mut Dice) -> Frog {
        *dice.pick(&[
            Frog::Insulated,
            Frog::PowerRouting,
            Frog::PowerRoutingWithContact,
            Frog::Switched,
        ])
    }

    fn turnout(dice: &mut Dice, toe: TrackEnd, exits: Vec<TrackEnd>) -> Work {
        Work::Turnout {
            toe,
            exits,
            frog: Self::frog(dice),
            frog_mm: 150.0,
            frog_length_mm: 20.0,
            closures_bonded: !dice.percent(15),
            exits_bonded: !dice.percent(15),
            open_mm: if dice.percent(90) { 2.0 } else { 1.0 },
        }
    }

    /// A turnout whose toe a tip is; its roads become tips, the diverging one last.
    pub fn facing(&mut self, dice: &mut Dice, tip: Tip) -> SpecialId {
        let at = (tip.joint, tip.x, tip.y);
        let angle = *dice.pick(&[12.0, -12.0]);
        let mut exits = Vec::new();
        let mut headings = vec![0.0, angle];
        if dice.percent(10) {
            headings.push(-angle);
        }
        for turn in headings {
            let (near, far) = self.lay(dice, at, tip.heading + turn, tip.forward);
            exits.push(near);
            self.tips.push(far);
        }
        if dice.percent(50) {
            exits.swap(0, 1);
        }
        let work = Self::turnout(dice, tip.end, exits);
        self.special(dice, work)
    }

    /// A turnout that a tip is a road of; its toe becomes a tip, and then its other road.
    pub fn trailing(&mut self, dice: &mut Dice, tip: Tip) -> SpecialId {
        let at = (tip.joint, tip.x, tip.y);
        let (toe, ahead) = self.lay(dice, at, tip.heading, tip.forward);
        let angle = *dice.pick(&[12.0, -12.0]);
        let (other, back) = self.lay(dice, at, tip.heading + 180.0 + angle, !tip.forward);
        self.tips.push(ahead);
        self.tips.push(back);
        let mut exits = vec![tip.end, other];
        if dice.percent(50) {
            exits.swap(0, 1);
        }
        let work = Self::turnout(dice, toe, exits);
        self.special(dice, work)
    }

    /// A diamond or a slip that a tip is a road of.
    pub fn crossing(&mut self, dice: &mut Dice, tip: Tip) {
        let at = (tip.joint, tip.x, tip.y);
        let angle = *dice.pick(&[20.0, -20.0, 40.0, 60.0]);
        let (on, ahead) = self.lay(dice, at, tip.heading, tip.forward);
        let (first, back) = self.lay(dice, at, tip.heading + angle + 180.0, !tip.forward);
        let (last, beyond) = self.lay(dice, at, tip.heading + angle, tip.forward);
        self.tips.extend([ahead, back, beyond]);
        let roads = [[tip.end, on], [first, last]];
        let frog = *dice.pick(&[Frog::Insulated, Frog::Switched]);
        let (frog_mm, frog_length_mm) = (120.0, 20.0);
        let work = match dice.below(4) {
            0 => Work::Slip { roads, double: true, frog, frog_mm, frog_length_mm },
            1 => Work::Slip { roads, double: false, frog, frog_mm, frog_length_mm },
            _ => Work::Diamond { roads, frog, frog_mm, frog_length_mm },
        };
        self.special(dice, work);
    }

    /// A turntable or a traverser that a tip is a road of.
    pub fn bridge(&mut self, dice: &mut Dice, tip: Tip) {
        let half = 150.0;
        let along = tip.heading.to_radians();
        let (x, y) = (tip.x + (half + 2.0) * along.cos(), tip.y + (half + 2.0) * along.sin());
        let [from, to] = [-half, half].map(|mm| {
            let (x, y) = (x + mm * along.cos(), y + mm * along.sin());
            self.joint(dice, x, y)
        });
        let bridge = self.run(dice, [from, to], Shape::Straight, tip.forward)[0].run;
        if let Some(run) = self.layout.runs.get_mut(&bridge) {
            run.length_mm = None;
        }
        let mut roads = vec![tip.end];
        let turns = [0.0, 45.0, -60.0];
        let count = 1 + dice.below(turns.len());
        for turn in &turns[..count] {
            let heading = tip.heading + turn;
            let out = heading.to_radians();
            let (x, y) = (x + (half + 2.0) * out.cos(), y + (half + 2.0) * out.sin());
            let joint = self.joint(dice, x, y);
            let (near, far) = self.lay(dice, (joint, x, y), heading, tip.forward);
            roads.push(near);
            self.tips.push(far);
        }
        let exchange_deg = dice.percent(30).then(|| *dice.pick(&[10.0, 100.0, -80.0]));
        let work = Work::Turntable { bridge, roads, exchange_deg };
        self.special(dice, work);
    }

    /// Joins two tips by a curve.
    pub fn join(&mut self, dice: &mut Dice, a: Tip, b: Tip) {
        let reach = (a.x - b.x).hypot(a.y - b.y).max(600.0) / 2.0;
        let control = |tip: &Tip| {
            let along = tip.heading.to_radians();
            let round = |mm: f64| (mm * 1000.0).round() / 1000.0;
            (round(tip.x + reach * along.cos()), round(tip.y + reach * along.sin()))
        };
        let shape = Shape::Cubic { c1: control(&a), c2: control(&b) };
        self.run(dice, [a.joint, b.joint], shape, a.forward);
    }

    /// Ends the track at a tip.
    pub fn buffer(&mut self, dice: &mut Dice, tip: Tip) {
        self.special(dice, Work::Buffer { end: tip.end });
    }
}

/// What a layout looks like.
const SHAPES: [fn(&mut Ground, &mut Dice); 9] =
    [line, line, oval, balloon, siding, dogbone, crossover, yard, anything];

/// Lays random track.
pub fn ground(dice: &mut Dice) -> Ground {
    let layout = Layout { rail_ohm_per_m: Quantity::given(0.1), ..Layout::default() };
    let mut ground = Ground { layout, forward: BTreeMap::new(), tips: Vec::new() };
    dice.pick(&SHAPES)(&mut ground, dice);
    while let Some(tip) = ground.tips.pop() {
        if dice.percent(30) {
            ground.buffer(dice, tip);
        }
    }
    ground
}

fn line(ground: &mut Ground, dice: &mut Dice) {
    ground.begin(dice, 0.0, 0.0, 0.0);
    for _ in 0..dice.below(4) {
        let tip = ground.take(dice.below(ground.tips.len()));
        ground.extend(dice, tip);
    }
}

fn close(ground: &mut Ground, dice: &mut Dice) {
    if let (Some(a), Some(b)) = (ground.tips.pop(), ground.tips.pop()) {
        ground.join(dice, a, b);
    }
}

fn oval(ground: &mut Ground, dice: &mut Dice) {
    line(ground, dice);
    close(ground, dice);
}

fn balloon(ground: &mut Ground, dice: &mut Dice) {
    ground.begin(dice, 0.0, 0.0, 0.0);
    let tip = ground.take(1);
    ground.facing(dice, tip);
    close(ground, dice);
}

fn siding(ground: &mut Ground, dice: &mut Dice) {
    ground.begin(dice, 0.0, 0.0, 0.0);
    let tip = ground.take(1);
    ground.facing(dice, tip);
    // The straight road goes on into a turnout the other way round; the two diverging roads meet.
    let straight = ground.take(1);
    ground.trailing(dice, straight);
    let back = ground.take(ground.tips.len() - 1);
    let diverging = ground.take(1);
    ground.join(dice, diverging, back);
    if dice.percent(30) {
        close(ground, dice);
    }
}

fn dogbone(ground: &mut Ground, dice: &mut Dice) {
    line(ground, dice);
    for _ in 0..2 {
        let tip = ground.take(0);
        ground.facing(dice, tip);
        close(ground, dice);
    }
}

fn crossover(ground: &mut Ground, dice: &mut Dice) {
    let mut turnouts = Vec::new();
    let mut roads = Vec::new();
    for (y, heading) in [(0.0, 0.0), (90.0, 180.0)] {
        ground.begin(dice, if heading == 0.0 { 0.0 } else { 4000.0 }, y, heading);
        let tip = ground.tips.pop();
        if let Some(tip) = tip {
            turnouts.push(ground.facing(dice, tip));
        }
        roads.extend(ground.tips.pop());
    }
    if let [a, b] = roads[..] {
        ground.join(dice, a, b);
    }
    let positions = |ground: &Ground, id| ground.layout.specials[&id].work.positions();
    if dice.percent(60) && turnouts.iter().all(|id| positions(ground, *id) == 2) {
        for id in turnouts {
            if let Some(special) = ground.layout.specials.get_mut(&id) {
                special.gang = "crossover".into();
                special.position = 0;
            }
        }
    }
}

fn yard(ground: &mut Ground, dice: &mut Dice) {
    ground.begin(dice, 0.0, 0.0, 0.0);
    for _ in 0..1 + dice.below(3) {
        let tip = ground.take(ground.tips.len() - 1);
        ground.facing(dice, tip);
    }
}

fn anything(ground: &mut Ground, dice: &mut Dice) {
    line(ground, dice);
    for _ in 0..1 + dice.below(3) {
        let tip = ground.take(dice.below(ground.tips.len()));
        match dice.below(8) {
            0 | 1 => drop(ground.facing(dice, tip)),
            2 | 3 => drop(ground.trailing(dice, tip)),
            4 | 5 => ground.crossing(dice, tip),
            6 => ground.bridge(dice, tip),
            _ => ground.extend(dice, tip),
        }
    }
    dice.shuffle(&mut ground.tips);
    for _ in 0..dice.below(3) {
        if ground.tips.len() > 2 {
            close(ground, dice);
        }
    }
}
