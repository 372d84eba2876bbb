//! The colours of both themes.

use eframe::egui::Color32;

use crate::findings::Verdict;

/// The colours of one theme. No colour means two things: verdicts, blocks, controls and polarity each have their own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tokens {
    /// Ground of the canvas.
    pub canvas: Color32,
    /// Fine lines of the grid.
    pub grid: Color32,
    /// Coarse lines of the grid.
    pub grid_coarse: Color32,
    /// Ground of panels.
    pub panel: Color32,
    /// Ground of cards on a panel.
    pub card: Color32,
    /// Ground of text fields.
    pub field: Color32,
    /// Hairlines between things.
    pub hairline: Color32,
    /// Outlines of controls.
    pub outline: Color32,
    /// Ground of buttons at rest.
    pub button: Color32,
    /// Ground of buttons under the pointer.
    pub button_hover: Color32,
    /// Ground of pressed and chosen buttons.
    pub chosen: Color32,
    /// Text on a chosen button.
    pub on_chosen: Color32,
    /// Text.
    pub text: Color32,
    /// Text of less weight.
    pub weak: Color32,
    /// Selection and focus on the canvas.
    pub accent: Color32,
    /// Track that no driver feeds.
    pub dead: Color32,
    /// A rail at positive potential.
    pub positive: Color32,
    /// A rail at negative potential.
    pub negative: Color32,
    /// Sleepers under the rails.
    pub sleeper: Color32,
    /// Verdict colours, by [`verdict_index`].
    pub verdicts: [Color32; 7],
    /// Colours of blocks; combined with [`DASHES`].
    pub blocks: [Color32; 7],
}

pub(super) const fn rgb(hex: u32) -> Color32 {
    Color32::from_rgb((hex >> 16) as u8, (hex >> 8) as u8, hex as u8)
}

/// Tokens of the dark theme.
pub const DARK: Tokens = Tokens {
    canvas: rgb(0x14181d),
    grid: rgb(0x1d232a),
    grid_coarse: rgb(0x2a323b),
    panel: rgb(0x1b2026),
    card: rgb(0x232931),
    field: rgb(0x12161a),
    hairline: rgb(0x323a44),
    outline: rgb(0x6d7783),
    button: rgb(0x2b323b),
    button_hover: rgb(0x37414c),
    chosen: rgb(0x56b4e9),
    on_chosen: rgb(0x0b1218),
    text: rgb(0xe9ecef),
    weak: rgb(0xaab3bd),
    accent: rgb(0x56b4e9),
    dead: rgb(0x7d8792),
    positive: rgb(0xf2f4f6),
    negative: rgb(0x8f9aa6),
    sleeper: rgb(0x2c343d),
    verdicts: [
        rgb(0x1fb58b), // clear: bluish green, lightened
        rgb(0xf0e442), // caution: yellow
        rgb(0xb9c2cc), // not known: grey
        rgb(0xe69f00), // stall: orange
        rgb(0xcc79a7), // back-feed: reddish purple
        rgb(0xe69f00), // overload: orange
        rgb(0xf07a35), // short: vermillion, lightened
    ],
    blocks: [
        rgb(0x4477aa), // blue
        rgb(0xccddaa), // pale green
        rgb(0xb94fa7), // purple, lightened
        rgb(0x999933), // olive
        rgb(0xee8866), // orange
        rgb(0x228833), // green
        rgb(0xee3377), // magenta
    ],
};

/// Tokens of the light theme.
pub const LIGHT: Tokens = Tokens {
    canvas: rgb(0xfbfbf8),
    grid: rgb(0xeeeeea),
    grid_coarse: rgb(0xdededa),
    panel: rgb(0xf3f4f2),
    card: rgb(0xffffff),
    field: rgb(0xffffff),
    hairline: rgb(0xd3d6d6),
    outline: rgb(0x7b838b),
    button: rgb(0xe4e7e7),
    button_hover: rgb(0xd5dadb),
    chosen: rgb(0x0072b2),
    on_chosen: rgb(0xffffff),
    text: rgb(0x1b1f24),
    weak: rgb(0x515962),
    accent: rgb(0x0072b2),
    dead: rgb(0x7b838b),
    positive: rgb(0x1b1f24),
    negative: rgb(0x87909c),
    sleeper: rgb(0xd6d6cf),
    verdicts: [
        rgb(0x007a58), // clear: bluish green, darkened
        rgb(0x846800), // caution: yellow, darkened
        rgb(0x5a636d), // not known: grey
        rgb(0x965f00), // stall: orange, darkened
        rgb(0x9c4a78), // back-feed: reddish purple, darkened
        rgb(0x965f00), // overload: orange, darkened
        rgb(0xb84a00), // short: vermillion, darkened
    ],
    blocks: [
        rgb(0x004488), // blue
        rgb(0x909000), // olive, darkened
        rgb(0xaa4499), // purple
        rgb(0x228833), // green
        rgb(0x332288), // indigo
        rgb(0xee3377), // magenta
        rgb(0x5f183c), // wine, darkened
    ],
};

/// Dashes of blocks: lengths of mark and space, points. An empty dash is a solid line.
pub const DASHES: [&[f32]; 4] = [&[], &[14.0, 5.0], &[5.0, 4.0], &[16.0, 4.0, 4.0, 4.0]];

/// Place of a verdict in [`Tokens::verdicts`].
pub fn verdict_index(verdict: Verdict) -> usize {
    match verdict {
        Verdict::Clear => 0,
        Verdict::Caution => 1,
        Verdict::NotKnown => 2,
        Verdict::Stall => 3,
        Verdict::BackFeed => 4,
        Verdict::Overload => 5,
        Verdict::Short => 6,
    }
}

impl Tokens {
    /// Colour of a verdict; its mark and its word tell it too.
    pub fn verdict(&self, verdict: Verdict) -> Color32 {
        self.verdicts[verdict_index(verdict)]
    }

    /// Colour of the `n`-th block.
    pub fn block(&self, n: usize) -> Color32 {
        self.blocks[n % self.blocks.len()]
    }
}

/// Dash of the `n`-th block. Seven colours and four dashes tell 28 blocks apart.
pub fn block_dash(n: usize) -> &'static [f32] {
    DASHES[n % DASHES.len()]
}
