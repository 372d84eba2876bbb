//! A page as PNG, drawn from its SVG with the faces of the program.

use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use super::face::{FAMILY, Face};
use super::{Page, svg};

/// Most pixels of a picture: 400 MB while it is drawn.
const MOST_PIXELS: f64 = 100e6;

/// A page as PNG with so many dots per inch, or as many as a picture may have.
///
/// # Errors
/// The picture cannot be drawn; the text says why.
pub fn png(page: &Page, title: &str, dots_per_inch: f64) -> Result<Vec<u8>, String> {
    static FACES: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let faces = FACES.get_or_init(|| {
        let mut faces = fontdb::Database::new();
        Face::ALL.into_iter().for_each(|face| faces.load_font_data(face.file().to_vec()));
        faces.set_sans_serif_family(FAMILY);
        Arc::new(faces)
    });
    let options = Options {
        font_family: FAMILY.to_owned(),
        fontdb: Arc::clone(faces),
        dpi: 25.4,
        ..Options::default()
    };
    // With one dot per mm a length in the file is a length of the tree.
    let tree = Tree::from_str(&svg(page, title), &options).map_err(|why| why.to_string())?;
    let most = (MOST_PIXELS / (page.width_mm * page.height_mm).max(1.0)).sqrt();
    let scale = (dots_per_inch / 25.4).min(most);
    let size = |mm: f64| (mm * scale).ceil().max(1.0) as u32;
    let mut picture = Pixmap::new(size(page.width_mm), size(page.height_mm))
        .ok_or("the picture would be too large")?;
    let scale = scale as f32;
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
    picture.encode_png().map_err(|why| why.to_string())
}
