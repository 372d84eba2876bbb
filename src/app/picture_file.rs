//! The file of a picture: read, put upright, made small enough for the screen. A file that is gone, damaged, too large or
//! no picture at all is told of in words.

use std::fs::File;
use std::io::{BufReader, ErrorKind};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use eframe::egui::ColorImage;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageError, ImageReader, Limits};

/// Ends of the names of files that are taken for pictures.
pub const EXTENSIONS: [&str; 3] = ["png", "jpg", "jpeg"];

/// Longest file that is read, bytes.
const LARGEST_FILE: u64 = 256 * 1024 * 1024;
/// Most pixels along a side: a plan of 8 m scanned at 100 per cm.
const LARGEST_SIDE: u32 = 80_000;
/// Most memory that a picture may take while it is read, bytes: a sheet of 80 by 110 cm at 300 dpi.
const LARGEST_IN_MEMORY: u64 = 512 * 1024 * 1024;
/// Most pixels along a side of what is shown; more would fill the memory of a small graphics card.
const LARGEST_SHOWN: usize = 8192;

/// Why a picture cannot be shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trouble {
    /// There is no such file.
    Gone,
    /// The file is there and cannot be read: why, as the end of a sentence.
    Wrong(String),
}

/// A picture that was read.
pub struct Taken {
    /// What is shown; it may be smaller than the file's picture.
    pub image: ColorImage,
    /// Width and height in the file, upright.
    pub pixels: (u32, u32),
}

/// Whether a file's name is that of a picture.
pub fn is_picture(path: &Path) -> bool {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    EXTENSIONS.iter().any(|known| ending.eq_ignore_ascii_case(known))
}

/// Width and height of a file's picture, upright.
pub fn pixels(path: &Path) -> Result<(u32, u32), Trouble> {
    guarded(|| {
        let mut decoder = decoder(path)?;
        let orientation = decoder.orientation().map_err(|error| trouble(&error))?;
        Ok(upright(decoder.dimensions(), orientation))
    })
}

/// Reads a picture for a screen that shows at most `most` pixels along a side of one.
pub fn take(path: &Path, most: usize) -> Result<Taken, Trouble> {
    guarded(|| {
        let mut decoder = decoder(path)?;
        let orientation = decoder.orientation().map_err(|error| trouble(&error))?;
        let pixels = upright(decoder.dimensions(), orientation);
        let mut image = DynamicImage::from_decoder(decoder).map_err(|error| trouble(&error))?;
        let most = u32::try_from(most.min(LARGEST_SHOWN)).unwrap_or(u32::MAX).max(1);
        if pixels.0.max(pixels.1) > most {
            image = image.thumbnail(most, most);
        }
        image.apply_orientation(orientation);
        let shown = image.into_rgba8();
        let size = [shown.width() as usize, shown.height() as usize];
        Ok(Taken { image: ColorImage::from_rgba_unmultiplied(size, &shown), pixels })
    })
}

/// A decoder that breaks down over a file is no harm to the window.
fn guarded<T>(read: impl FnOnce() -> Result<T, Trouble>) -> Result<T, Trouble> {
    catch_unwind(AssertUnwindSafe(read))
        .unwrap_or_else(|_| Err(Trouble::Wrong("it is damaged".into())))
}

fn decoder(path: &Path) -> Result<impl ImageDecoder, Trouble> {
    let there = std::fs::metadata(path).map_err(|error| unread(&error))?;
    // A pipe or a device would be waited for without end.
    if !there.is_file() {
        return Err(Trouble::Wrong("it is not a file".into()));
    }
    if there.len() > LARGEST_FILE {
        return Err(Trouble::Wrong(format!(
            "it is longer than {} MiB; save it smaller",
            LARGEST_FILE / 1024 / 1024
        )));
    }
    let file = BufReader::new(File::open(path).map_err(|error| unread(&error))?);
    let mut reader =
        ImageReader::new(file).with_guessed_format().map_err(|error| unread(&error))?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(LARGEST_SIDE);
    limits.max_image_height = Some(LARGEST_SIDE);
    limits.max_alloc = Some(LARGEST_IN_MEMORY);
    reader.limits(limits);
    let decoder = reader.into_decoder().map_err(|error| trouble(&error))?;
    let (width, height) = decoder.dimensions();
    if width == 0 || height == 0 {
        return Err(Trouble::Wrong("it is empty".into()));
    }
    // What the file says of its size is looked at before memory is given to it.
    if decoder.total_bytes() > LARGEST_IN_MEMORY {
        return Err(too_many(width, height));
    }
    Ok(decoder)
}

fn too_many(width: u32, height: u32) -> Trouble {
    Trouble::Wrong(format!("it is too large, {width} × {height} pixels; save it smaller"))
}

fn unread(error: &std::io::Error) -> Trouble {
    match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => Trouble::Gone,
        _ => Trouble::Wrong(format!("it cannot be read ({error})")),
    }
}

fn trouble(error: &ImageError) -> Trouble {
    match error {
        ImageError::Unsupported(_) => Trouble::Wrong("it is no PNG and no JPEG picture".into()),
        ImageError::Limits(_) => Trouble::Wrong("it has too many pixels; save it smaller".into()),
        ImageError::IoError(error) if error.kind() != ErrorKind::UnexpectedEof => unread(error),
        _ => Trouble::Wrong("it is damaged, or no picture".into()),
    }
}

fn upright((width, height): (u32, u32), orientation: Orientation) -> (u32, u32) {
    match orientation {
        Orientation::Rotate90
        | Orientation::Rotate270
        | Orientation::Rotate90FlipH
        | Orientation::Rotate270FlipH => (height, width),
        _ => (width, height),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use image::{ImageFormat, RgbImage};

    fn folder() -> tempfile::TempDir {
        tempfile::tempdir().unwrap()
    }

    fn why(read: Result<Taken, Trouble>) -> String {
        match read.map(|taken| taken.pixels) {
            Err(Trouble::Wrong(why)) => why,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn png_and_jpeg_are_read_whatever_their_names_say() {
        let folder = folder();
        for (format, name) in [(ImageFormat::Png, "a.jpg"), (ImageFormat::Jpeg, "b.png")] {
            let path = folder.path().join(name);
            RgbImage::new(30, 20).save_with_format(&path, format).unwrap();
            let taken = take(&path, 2048).unwrap();
            assert_eq!((taken.pixels, taken.image.size), ((30, 20), [30, 20]));
            assert_eq!(pixels(&path), Ok((30, 20)));
        }
    }

    #[test]
    fn a_large_picture_is_shown_smaller_and_keeps_its_shape() {
        let folder = folder();
        let path = folder.path().join("long.png");
        RgbImage::new(3000, 30).save(&path).unwrap();
        let taken = take(&path, 1000).unwrap();
        assert_eq!((taken.pixels, taken.image.size), ((3000, 30), [1000, 10]));
    }

    /// A JPEG as a camera held on its side writes it: the picture lies, and a tag says how to put it upright (Exif 2.3,
    /// tag 0x0112, value 6).
    #[test]
    fn a_photograph_is_put_upright() {
        let folder = folder();
        let path = folder.path().join("photo.jpg");
        RgbImage::new(40, 20).save(&path).unwrap();
        let plain = std::fs::read(&path).unwrap();
        let tag = [
            b"Exif\0\0MM\0*\0\0\0\x08".as_slice(),
            &[0, 1, 0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, 6, 0, 0, 0, 0, 0, 0],
        ]
        .concat();
        let length = u16::try_from(tag.len() + 2).unwrap().to_be_bytes();
        let tagged = [&plain[..2], &[0xff, 0xe1], &length, &tag, &plain[2..]].concat();
        std::fs::write(&path, tagged).unwrap();
        assert_eq!(pixels(&path), Ok((20, 40)));
        assert_eq!(take(&path, 2048).unwrap().image.size, [20, 40]);
    }

    #[test]
    fn what_is_no_picture_is_told() {
        let folder = folder();
        let path = folder.path().join("a.png");
        assert_eq!(take(&path, 2048).err(), Some(Trouble::Gone));
        std::fs::write(&path, "not a picture").unwrap();
        assert!(why(take(&path, 2048)).contains("no PNG and no JPEG"));
        assert_eq!(why(take(folder.path(), 2048)), "it is not a file");
        RgbImage::from_fn(90, 90, |x, y| image::Rgb([(x * y) as u8, (x ^ y) as u8, 7]))
            .save(&path)
            .unwrap();
        let whole = std::fs::read(&path).unwrap();
        for length in [8, 20, 33, 60, whole.len() / 2] {
            std::fs::write(&path, &whole[..length]).unwrap();
            assert!(why(take(&path, 2048)).contains("damaged"), "{length}");
        }
    }

    #[test]
    fn a_small_file_that_says_it_is_huge_is_refused() {
        let folder = folder();
        let path = folder.path().join("bomb.png");
        RgbImage::new(1, 1).save(&path).unwrap();
        let mut bytes = std::fs::read(&path).unwrap();
        for (width, height) in [(60_000u32, 60_000u32), (2_000_000, 1)] {
            bytes[16..20].copy_from_slice(&width.to_be_bytes());
            bytes[20..24].copy_from_slice(&height.to_be_bytes());
            let sum = crc(&bytes[12..29]).to_be_bytes();
            bytes[29..33].copy_from_slice(&sum);
            std::fs::write(&path, &bytes).unwrap();
            let why = why(take(&path, 2048));
            assert!(why.contains("save it smaller"), "{why}");
        }
    }

    /// The checksum of a PNG's chunk (ISO/IEC 15948, annex D).
    fn crc(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(!0u32, |sum, byte| {
            (0..8).fold(sum ^ u32::from(*byte), |sum, _| {
                if sum & 1 == 1 { 0xedb8_8320 ^ (sum >> 1) } else { sum >> 1 }
            })
        })
    }
}
