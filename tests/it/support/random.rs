//! Random layouts that mean something: each from a seed, and the same for ever.

use gapwright::layout::{self, Layout};

use super::dice::Dice;
use super::{feeding, power, stock, track};

/// The layout of a seed.
pub fn layout(seed: u64) -> Layout {
    let mut dice = Dice::new(seed);
    loop {
        let layout = attempt(&mut dice);
        // What is not a layout that could be in a file is thrown away.
        if layout::load(&layout::save(&layout)).is_ok() {
            return layout;
        }
    }
}

fn attempt(dice: &mut Dice) -> Layout {
    let mut ground = track::ground(dice);
    feeding::cuts(&mut ground, dice);
    let house = power::House::of(dice);
    let drivers = 1 + dice.below(4);
    power::drivers(&mut ground, dice, &house, drivers);
    let origins = power::origins(&mut ground, dice);
    feeding::feeds(&mut ground, dice, &origins);
    feeding::bonds(&mut ground, dice);
    stock::stock(&mut ground, dice);
    ground.layout.name = "A random layout".into();
    ground.layout
}
