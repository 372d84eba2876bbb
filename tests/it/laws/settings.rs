//! Settings law: change any driver's direction or throttle, and nothing in the report changes except what is of now.

use gapwright::layout::Layout;

use super::harness::same;
use crate::support::dice::Dice;
use crate::support::edits;
use crate::support::normal::Normal;

pub fn law(layout: &Layout, dice: &mut Dice) -> Result<(), String> {
    let as_drawn = Normal::of(layout);
    for other in [edits::set(layout, dice), edits::stopped(layout)] {
        let other = Normal::of(&other);
        let now = [as_drawn.now(), other.now()].concat();
        same(&as_drawn.without(&now), &other.without(&now))?;
    }
    Ok(())
}
