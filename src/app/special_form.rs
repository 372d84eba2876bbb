//! The particulars of special work, devices and bonds.

use eframe::egui::{Id, Ui};

use super::App;
use super::equipment::{DEVICES, device_word, new_device};
use super::form::{AMPERE, Changed, DEGREE, FINE_MM, FROM_ZERO, Form, MM, MS, OHM, VOLT};
use super::names;
use super::particulars::{put, trip_kind_form};
use super::special_tool::{FROG_HELP, end_words, frog_choices};
use super::theme::{SPACE, heading, small};
use super::tools::{Tool, caution_ui};
use crate::layout::edit::Entity;
use crate::layout::laying::free_ends;
use crate::layout::place::{self, Leaving, Parting};
use crate::layout::{
    BondId, Contact, DeviceId, DeviceKind, EntityId, Layout, Lever, Origin, Rail, RunId, Special,
    SpecialId, Spot, TrackEnd, Work, resolve,
};
use crate::rails::anatomy::contact_sources;

/// Position of a selector, thrown with its gang.
fn position_ui(ui: &mut Ui, app: &mut App, prefix: &str, id: EntityId) {
    let Some((now, positions)) = names::positions(app.doc.layout(), id) else { return };
    if positions < 2 {
        return;
    }
    let choices: Vec<(u32, String)> = (0..positions)
        .map(|position| (position, names::position_words(app.doc.layout(), id, position)))
        .collect();
    let mut position = now;
    let mut form = Form::new(ui, prefix);
    form.choice("Set for", &mut position, &choices);
    if position != now {
        app.throw_to(id, position);
    }
    ui.horizontal(|ui| {
        if ui.button("Throw it on").on_hover_text("To its next position (T)").clicked() {
            app.throw_on(id, true);
        }
        if ui.button("Throw it back").on_hover_text("To the one before (Shift+T)").clicked() {
            app.throw_on(id, false);
        }
    });
    ui.add_space(SPACE);
}

/// Special work.
pub fn special_ui(ui: &mut Ui, app: &mut App, id: SpecialId) {
    position_ui(ui, app, "Special work", id.into());
    let layout = app.doc.layout();
    let Some(old) = layout.specials.get(&id).cloned() else { return };
    let mut new = old.clone();
    let mut form = Form::new(ui, "Particulars");
    form.text("Name", &mut new.name, "a name for it");
    work_form(&mut form, layout, &old, &mut new.work);
    contact_form(&mut form, app, &old, &mut new);
    if new.work.positions() > 1 {
        form.text("Gang", &mut new.gang, "what names the same is thrown together");
    }
    form.notes("Notes", &mut new.notes);
    let changed = form.changed;
    // What is left of a double slip has fewer positions.
    new.position = new.position.min(new.work.positions().saturating_sub(1));
    if new.work.fed_frogs() == 0 {
        new.contact = Contact::default();
    } else if new.work.fed_frogs() != old.work.fed_frogs()
        || new.work.positions() != old.work.positions()
    {
        new.contact.sources.clear();
        let last = new.work.positions().saturating_sub(1);
        new.contact.position = new.contact.position.filter(|position| *position <= last);
    }
    let runs: Vec<RunId> =
        new.work.ends().iter().map(|end| end.run).chain(new.work.bridge()).collect();
    put(app, changed, &format!("change a {}", old.work.word()), Entity::Special(new));
    leaving_ui(ui, app, &old);
    ui.add_space(SPACE);
    ui.label(small(ui, "Its runs"));
    ui.horizontal_wrapped(|ui| {
        for run in runs {
            if ui.button(app.called(run.into())).clicked() {
                app.select(run.into());
            }
        }
    });
}

/// Hand, turn and length of a turnout's diverging roads: bent anew where it lies.
fn leaving_ui(ui: &mut Ui, app: &mut App, old: &Special) {
    let Some(now) = place::leaving(app.doc.layout(), old) else { return };
    let mut wish = now;
    let mut form = Form::new(ui, "Roads");
    if matches!(now.parting, Parting::Left | Parting::Right) {
        let hands = [(Parting::Left, "Left".to_owned()), (Parting::Right, "Right".to_owned())];
        form.choice("Hand", &mut wish.parting, &hands).on_hover_text(
            "To which side the diverging road goes, seen from the points. What follows it swings along",
        );
    }
    form.number("Turn", &mut wish.turn_deg, DEGREE, 0.5..=120.0)
        .on_hover_text("How far the diverging road turns away by the end of its first run");
    let radius = app.camera.units.length(now.length_mm / now.turn_deg.to_radians());
    form.number("Length", &mut wish.length_mm, MM, 10.0..=1e5).on_hover_text(format!(
        "Of the first run of the diverging road. Beside a straight road its radius is {radius}"
    ));
    if let Some(changed) = form.changed {
        app.bend_roads(old.id, &wish, changed.flowing.then_some(changed.field));
    }
}

impl App {
    fn bend_roads(&mut self, id: SpecialId, wish: &Leaving, field: Option<Id>) {
        let placed = place::reshaped(self.doc.layout(), id, wish);
        self.do_placed_field("bend a turnout's roads", placed, field);
    }

    /// The turnout of one hand that alone is selected while nothing is being placed, and how its roads leave it.
    pub(super) fn turnout_to_bend(&self) -> Option<(SpecialId, Leaving)> {
        let [EntityId::Special(id)] = self.selection[..] else { return None };
        let layout = self.doc.layout();
        let now = place::leaving(layout, layout.specials.get(&id)?)?;
        let handed = matches!(now.parting, Parting::Left | Parting::Right);
        (handed && self.tools.tool != Tool::Special).then_some((id, now))
    }

    /// Turns a turnout that lies into one of the other hand.
    pub(super) fn other_hand(&mut self, id: SpecialId, now: Leaving) {
        let left = now.parting == Parting::Left;
        let parting = if left { Parting::Right } else { Parting::Left };
        self.bend_roads(id, &Leaving { parting, ..now }, None);
    }
}

/// What two roads that cross can be, without laying them anew.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Crossing {
    Diamond,
    SingleSlip,
    DoubleSlip,
}

/// A diamond, a single or a double slip of the same two roads.
fn crossing_form(form: &mut Form<'_>, work: &mut Work) {
    let now = match work {
        Work::Diamond { .. } => Crossing::Diamond,
        Work::Slip { double: false, .. } => Crossing::SingleSlip,
        Work::Slip { .. } => Crossing::DoubleSlip,
        _ => return,
    };
    let mut kind = now;
    let kinds = [
        (Crossing::Diamond, "Diamond".to_owned()),
        (Crossing::SingleSlip, "Single slip".to_owned()),
        (Crossing::DoubleSlip, "Double slip".to_owned()),
    ];
    form.choice("Kind", &mut kind, &kinds);
    if kind == now {
        return;
    }
    if let Work::Diamond { roads, frog, frog_mm, frog_length_mm }
    | Work::Slip { roads, frog, frog_mm, frog_length_mm, .. } = work.clone()
    {
        let slip = |double| Work::Slip { roads, double, frog, frog_mm, frog_length_mm };
        *work = match kind {
            Crossing::Diamond => Work::Diamond { roads, frog, frog_mm, frog_length_mm },
            Crossing::SingleSlip => slip(false),
            Crossing::DoubleSlip => slip(true),
        };
    }
}

fn work_form(form: &mut Form<'_>, layout: &Layout, old: &Special, work: &mut Work) {
    crossing_form(form, work);
    match work {
        Work::Turnout {
            toe,
            exits,
            frog,
            frog_mm,
            frog_length_mm,
            closures_bonded,
            exits_bonded,
            open_mm,
        } => {
            let ends: Vec<(TrackEnd, String)> =
                old.work.ends().into_iter().map(|end| (end, end_words(layout, end))).collect();
            let was = *toe;
            form.choice("Points at", toe, &ends).on_hover_text("The end from which the roads part");
            if *toe != was
                && let Some(at) = exits.iter().position(|exit| exit == toe)
            {
                exits[at] = was;
            }
            form.choice("Frogs", frog, &frog_choices(true)).on_hover_text(FROG_HELP);
            frog_form(form, frog_mm, frog_length_mm);
            let crossed = place::frog_mm(layout, *toe, exits);
            let from = form.ui.button("Put it where the roads are one gauge apart");
            if from.clicked()
                && let Some(mm) = crossed
            {
                *frog_mm = mm;
                form.changed = Some(Changed { field: from.id, flowing: false });
            }
            if !frog.is_one_metal() {
                form.tick("Closure rails are bonded", closures_bonded).on_hover_text(
                    "To the stock rail of their hand; otherwise the points feed them",
                );
                form.tick("Rails beyond the frog are bonded", exits_bonded)
                    .on_hover_text("To the stock rail of their hand");
            }
            form.number("Open point", open_mm, FINE_MM, 0.0..=100.0)
                .on_hover_text("How far it stands off its stock rail");
        }
        Work::Diamond { frog, frog_mm, frog_length_mm, .. } => {
            form.choice("Frogs", frog, &frog_choices(false)).on_hover_text(FROG_HELP);
            frog_form(form, frog_mm, frog_length_mm);
        }
        Work::Slip { frog, frog_mm, frog_length_mm, .. } => {
            form.choice("Frogs", frog, &frog_choices(false)).on_hover_text(FROG_HELP);
            frog_form(form, frog_mm, frog_length_mm);
        }
        Work::Turntable { roads, exchange_deg, .. } => {
            form.optional_number("Exchanges from", exchange_deg, 0.0, DEGREE, -360.0..=360.0);
            form.hint(
                "Heading of the bridge, counter-clockwise from the plan's right, from which through half a turn its \
                 rails are exchanged behind the feed.",
            );
            roads_form(form, layout, roads);
        }
        Work::Traverser { roads, .. } => roads_form(form, layout, roads),
        Work::Buffer { end } => form.hint(&format!("At the {}", end_words(layout, *end))),
    }
}

fn frog_form(form: &mut Form<'_>, frog_mm: &mut f64, length_mm: &mut f64) {
    form.number("Frog at", frog_mm, MM, 0.1..=1e4)
        .on_hover_text("Distance from the joint to the middle of the farthest frog");
    form.number("Frog length", length_mm, FINE_MM, 0.1..=5e3)
        .on_hover_text("Between the gaps that bound it");
}

/// The roads around a bridge: taken away one by one, free ends added.
fn roads_form(form: &mut Form<'_>, layout: &Layout, roads: &mut Vec<TrackEnd>) {
    let mut gone = None;
    for (n, road) in roads.iter().enumerate() {
        let words = end_words(layout, *road);
        let take = form.row(&format!("Road {}", n + 1), |ui| {
            ui.label(words);
            ui.button("Take away")
        });
        let take = take.accessible_name(format!("Particulars: take road {} away", n + 1));
        if take.clicked() {
            gone = Some((n, take.id));
        }
    }
    if let Some((n, field)) = gone.filter(|_| roads.len() > 1) {
        roads.remove(n);
        form.changed = Some(Changed { field, flowing: false });
    }
    let mut choices: Vec<(Option<TrackEnd>, String)> =
        vec![(None, "choose an end of track".into())];
    choices.extend(free_ends(layout).into_iter().map(|end| (Some(end), end_words(layout, end))));
    let mut added = None;
    form.choice("Another road", &mut added, &choices);
    roads.extend(added);
}

#[derive(Clone, Copy, PartialEq)]
enum Wired {
    Right,
    Exchanged,
    Listed,
}

fn contact_form(form: &mut Form<'_>, app: &App, old: &Special, new: &mut Special) {
    let layout = app.doc.layout();
    if old.work.fed_frogs() == 0 || new.work.fed_frogs() == 0 {
        return;
    }
    form.ui.add_space(SPACE);
    form.ui.label(heading("Contact of the frogs"));
    let levers = [
        (Lever::Points, "The lever of the points".to_owned()),
        (Lever::Own, "A lever of its own".to_owned()),
    ];
    let was = new.contact.lever;
    form.choice("Thrown by", &mut new.contact.lever, &levers)
        .on_hover_text("On a lever of its own it is tried in every position beside the points");
    if was != new.contact.lever {
        new.contact.position = None;
    }
    let stands = (0..old.work.positions())
        .map(|position| (Some(position), names::position_words(layout, old.id.into(), position)));
    match new.contact.lever {
        Lever::Points => {
            let with = std::iter::once((None, "with the points".to_owned()));
            let stands: Vec<_> = with.chain(stands).collect();
            form.choice("Stands", &mut new.contact.position, &stands).on_hover_text(
                "A contact that works apart from its points may stand for another road",
            );
        }
        Lever::Own => {
            new.contact.position = Some(new.contact_position());
            form.choice("Stands", &mut new.contact.position, &stands.collect::<Vec<_>>());
        }
    }
    let sources = |exchanged| contact_sources(layout, old, exchanged);
    let mut wired = if new.contact.sources.is_empty() {
        Wired::Right
    } else if new.contact.sources == sources(true) {
        Wired::Exchanged
    } else {
        Wired::Listed
    };
    let was = wired;
    let ways = [
        (Wired::Right, "The right way round".to_owned()),
        (Wired::Exchanged, "Exchanged".to_owned()),
        (Wired::Listed, "Wire by wire".to_owned()),
    ];
    form.choice("Wires", &mut wired, &ways);
    if wired != was {
        new.contact.sources = match wired {
            Wired::Right => Vec::new(),
            Wired::Exchanged => sources(true),
            Wired::Listed => sources(false),
        };
    } else if wired == Wired::Listed {
        let many = new.contact.sources.len() > 1;
        for (frog, places) in new.contact.sources.iter_mut().enumerate() {
            for (position, spot) in places.iter_mut().enumerate() {
                let road = names::position_words(layout, old.id.into(), position as u32);
                let label = if many { format!("Frog {}, {road}", frog + 1) } else { road };
                spot_form(form, app, &label, spot);
            }
        }
    }
    if new.has_contact_lever() {
        (new.contact.before_points, new.contact.open_between) = (false, false);
        return;
    }
    form.tick("Thrown before the points leave", &mut new.contact.before_points)
        .on_hover_text("Otherwise after they have arrived");
    form.tick("Open while the points move", &mut new.contact.open_between).on_hover_text(
        "It breaks before they leave one stock rail and makes after they lie at the other",
    );
}

fn spot_form(form: &mut Form<'_>, app: &App, label: &str, spot: &mut Spot) {
    let rails = [(Rail::Left, "Left rail".to_owned()), (Rail::Right, "Right rail".to_owned())];
    form.choice(&format!("{label}: run"), &mut spot.run, &app.run_choices());
    form.number(&format!("{label}: at"), &mut spot.at_mm, MM, FROM_ZERO);
    form.choice(&format!("{label}: rail"), &mut spot.rail, &rails);
}

/// A device.
pub fn device_ui(ui: &mut Ui, app: &mut App, id: DeviceId) {
    position_ui(ui, app, "Device", id.into());
    let layout = app.doc.layout();
    let Some(mut device) = layout.devices.get(&id).cloned() else { return };
    let origins: Vec<(Origin, String)> = names::origin_choices(layout)
        .into_iter()
        .filter(|(origin, _)| *origin != Origin::Device(id))
        .collect();
    let mut form = Form::new(ui, "Device particulars");
    form.text("Name", &mut device.name, "a name for the device");
    let word = device_word(&device.kind);
    let mut chosen = word;
    form.choice("Kind", &mut chosen, &DEVICES.map(|(kind, words)| (kind, words.to_owned())));
    if chosen != word {
        let mut sources = device.kind.sources();
        sources.dedup();
        if let Some(kind) = new_device(chosen, &sources) {
            device.kind = kind;
            device.position = 0;
        }
    } else {
        device_form(&mut form, &origins, &mut device.kind);
    }
    form.quantity("Resistance", &mut device.ohm, OHM, FROM_ZERO);
    if device.kind.positions() > 1 {
        form.text("Gang", &mut device.gang, "what names the same is thrown together");
    }
    form.notes("Notes", &mut device.notes);
    let changed = form.changed;
    device.position = device.position.min(device.kind.positions().saturating_sub(1));
    let mains = matches!(device.kind, DeviceKind::Fuse { .. } | DeviceKind::Breaker { .. });
    let word = device.kind.word();
    let hot = hot_words(app.doc.layout(), &device.kind);
    put(app, changed, &format!("change a {word}"), Entity::Device(device));
    if let Some(words) = hot {
        ui.add_space(SPACE);
        caution_ui(ui, &words);
    }
    if mains {
        ui.add_space(SPACE);
        caution_ui(
            ui,
            "A fuse or breaker here protects the low-voltage wire behind it. It is no protection on the mains side, \
             which is for a licensed electrician and the electrical code of your place.",
        );
    }
}

/// What a lamp or resistor can take while the rails behind it are shorted: all of its supply's voltage.
fn hot_words(layout: &Layout, kind: &DeviceKind) -> Option<String> {
    let DeviceKind::Resistor { from, ohm } = kind else { return None };
    let volts = resolve(layout, *from, &|device| device.position)
        .and_then(|found| layout.drivers.get(&found.driver))
        .and_then(|driver| layout.supplies.get(&driver.supply))
        .map(|supply| supply.open_v.value);
    let watts = volts.map(|volts| volts * volts / ohm.value).filter(|watts| watts.is_finite());
    let most = watts.map_or("much power".to_owned(), |w| format!("up to {w:.0} W"));
    Some(format!(
        "Lamps and resistors get hot: with the rails behind it shorted it takes {most}. Rate it for that, mount it away \
         from wood, plastic and wires, and let it cool before you touch it."
    ))
}

fn device_form(form: &mut Form<'_>, origins: &[(Origin, String)], kind: &mut DeviceKind) {
    match kind {
        DeviceKind::CabSelector { cabs } => return cabs_form(form, origins, cabs),
        DeviceKind::ReversingSwitch { from, .. }
        | DeviceKind::AutoReverser { from, .. }
        | DeviceKind::Breaker { from, .. }
        | DeviceKind::Fuse { from, .. }
        | DeviceKind::Resistor { from, .. }
        | DeviceKind::DiodePair { from, .. } => {
            form.choice("Fed from", from, origins);
        }
    }
    match kind {
        DeviceKind::ReversingSwitch { centre_off, .. } => {
            form.tick("Has an off position in the middle", centre_off);
        }
        DeviceKind::AutoReverser { amps, acts_after_s, .. } => {
            form.quantity("Acts beyond", amps, AMPERE, 0.001..=1e3);
            form.number("Acts after", acts_after_s, MS, 0.0..=100.0);
        }
        DeviceKind::Breaker { amps, trip, retry_s, .. } => {
            form.quantity("Acts beyond", amps, AMPERE, 0.001..=1e3);
            trip_kind_form(form, trip);
            form.optional_number("Tries again after", retry_s, 2.0, MS, 0.0..=3600.0);
        }
        DeviceKind::Fuse { amps, trip, .. } => {
            form.quantity("Rated", amps, AMPERE, 0.001..=1e3);
            trip_kind_form(form, trip);
        }
        DeviceKind::Resistor { ohm, .. } => {
            form.quantity("In one pole", ohm, OHM, 1e-3..=1e7);
            form.hint("Of a lamp, the resistance that it has at the current of a fault: hot.");
        }
        DeviceKind::DiodePair { volts, ohm, .. } => {
            form.quantity("Forward voltage", volts, VOLT, FROM_ZERO);
            form.quantity("In series", ohm, OHM, 1e-3..=1e7);
        }
        DeviceKind::CabSelector { .. } => {}
    }
}

fn cabs_form(form: &mut Form<'_>, origins: &[(Origin, String)], cabs: &mut Vec<Option<Origin>>) {
    let mut choices: Vec<(Option<Origin>, String)> = vec![(None, "Off".to_owned())];
    choices.extend(origins.iter().map(|(origin, words)| (Some(*origin), words.clone())));
    let mut gone = None;
    for (n, cab) in cabs.iter_mut().enumerate() {
        form.choice(&format!("Position {}", n + 1), cab, &choices);
        let take = form
            .ui
            .button("Take away")
            .accessible_name(format!("Device particulars: take position {} away", n + 1));
        if take.clicked() {
            gone = Some((n, take.id));
        }
    }
    if let Some((n, field)) = gone.filter(|_| cabs.len() > 1) {
        cabs.remove(n);
        form.changed = Some(Changed { field, flowing: false });
    }
    let add = form.ui.button("Add a position");
    if add.clicked() {
        let fresh = origins.iter().map(|(origin, _)| Some(*origin)).find(|o| !cabs.contains(o));
        cabs.push(fresh.flatten());
        form.changed = Some(Changed { field: add.id, flowing: false });
    }
}

/// A bond.
pub fn bond_ui(ui: &mut Ui, app: &mut App, id: BondId) {
    let layout = app.doc.layout();
    let Some(mut bond) = layout.bonds.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Bond");
    spot_form(&mut form, app, "From", &mut bond.from);
    spot_form(&mut form, app, "To", &mut bond.to);
    let changed = form.changed;
    put(app, changed, "change a bond", Entity::Bond(bond));
}
