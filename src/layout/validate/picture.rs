//! Rules for pictures under the plan.

use super::found::{Found, May, SHARE};
use crate::layout::model::Picture;

const MM_PER_PIXEL: May = May::Be(1e-4, 1e4);

pub(super) fn picture(picture: &Picture, found: &mut Found) {
    found.of(picture.id);
    found.number(picture.id);
    found.word("path", &picture.path);
    found.plan("x_mm", picture.x_mm);
    found.plan("y_mm", picture.y_mm);
    let hint = "scale the picture by two points that are a known distance apart";
    found.value("mm_per_pixel", picture.mm_per_pixel, MM_PER_PIXEL, " mm", hint);
    let hint = "a whole turn is 360°";
    found.value("turn_deg", picture.turn_deg, May::Be(-360.0, 360.0), "°", hint);
    let hint = "how strongly it is painted is a fraction: half is 0.5";
    found.value("opacity", picture.opacity, SHARE, "", hint);
    for (i, pixels) in picture.pixels.iter().flat_map(|(w, h)| [*w, *h]).enumerate() {
        let hint = "leave the field away if the size of the picture is not known";
        let may = May::Be(1.0, 1e6);
        found.value(&format!("pixels[{i}]"), f64::from(pixels), may, " pixels", hint);
    }
}
