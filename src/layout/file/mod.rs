//! The layout file: reading with every fault at its place, writing that is the same for equal layouts.

mod disk;
mod error;
mod format;
mod parse;
mod pictures;
mod read;
mod spans;
mod whole;
mod write;

#[cfg(feature = "window")]
pub(crate) use disk::text_for;
pub use disk::{read_from, read_path, write_path};
pub use error::{LoadError, ReadError, io_words};
pub use format::{EXTENSION, LARGEST_FILE, VERSION};
pub use pictures::{find, folder_of, named};
pub use read::{Loaded, load};
#[cfg(feature = "window")]
pub(crate) use whole::write_private;
pub use whole::{EARLIER, earlier, write_whole};
pub use write::save;
