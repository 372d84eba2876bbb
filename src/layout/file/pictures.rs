//! Files of pictures: how a layout names them, and where they are found again.

use std::borrow::Cow;
use std::path::{Component, Path, PathBuf};

use crate::layout::model::Layout;

/// The folder that a layout file lies in, or will lie in; links are followed.
pub fn folder_of(layout_file: &Path) -> PathBuf {
    let file = std::fs::canonicalize(layout_file)
        .or_else(|_| std::path::absolute(layout_file))
        .unwrap_or_else(|_| layout_file.to_owned());
    let folder = file.parent().unwrap_or(&file);
    plain(&std::fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned()))
}

/// A path without `.` and `..`, and on Windows without the mark of a path that is as long as it likes.
fn plain(path: &Path) -> PathBuf {
    let long = path.to_str().and_then(|text| text.strip_prefix(r"\\?\"));
    let path = match long {
        Some(text) if text.as_bytes().get(1) == Some(&b':') => Path::new(text),
        _ => path,
    };
    let mut out = PathBuf::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir
                if matches!(out.components().next_back(), Some(Component::Normal(_))) =>
            {
                out.pop();
            }
            // Above the root is the root.
            Component::ParentDir if out.has_root() => {}
            part => out.push(part),
        }
    }
    out
}

/// A picture's path from the root. `folder` is that of the layout file.
fn from_root(path: &str, folder: &Path) -> PathBuf {
    plain(&folder.join(path))
}

/// The way from a folder to a file, both from the root, with forward slashes: the file's whole path if there is no
/// such way (another drive), `None` if the path is no text.
fn way(folder: &Path, file: &Path) -> Option<String> {
    let (from, to): (Vec<Component>, Vec<Component>) =
        (folder.components().collect(), file.components().collect());
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    let rooted =
        matches!(from.get(..shared), Some([.., Component::RootDir | Component::Normal(_)]));
    if !rooted {
        return file.to_str().map(|text| text.replace(std::path::MAIN_SEPARATOR, "/"));
    }
    let ups = std::iter::repeat_n(Some(".."), from.len() - shared);
    let downs = to.iter().skip(shared).map(|part| part.as_os_str().to_str());
    ups.chain(downs).collect::<Option<Vec<&str>>>().map(|parts| parts.join("/"))
}

/// The path under which a picture's file is named in a layout that is open, from the root; `None` if the path is no
/// text, which a layout file must be.
pub fn named(file: &Path) -> Option<String> {
    let file = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
    let folder = file.parent().and_then(|folder| std::fs::canonicalize(folder).ok());
    let file = match (folder, file.file_name()) {
        (Some(folder), Some(name)) => folder.join(name),
        _ => file,
    };
    plain(&file).to_str().map(str::to_owned)
}

/// Where a picture's file is: where its path says, or beside the layout file, if one of that name is there. `None`:
/// it is gone.
pub fn find(path: &str, folder: Option<&Path>) -> Option<PathBuf> {
    let said = folder.map_or_else(|| PathBuf::from(path), |folder| from_root(path, folder));
    let name = path.rsplit(['/', '\\']).next().filter(|name| !name.is_empty());
    let beside = folder.zip(name).map(|(folder, name)| folder.join(name));
    [Some(said), beside].into_iter().flatten().find(|file| file.is_file())
}

/// Names the pictures of a layout that was read from a folder by their paths from the root, so that they are found
/// wherever the layout is saved next. One that is gone keeps the place where it should be.
pub(super) fn take_in(layout: &mut Layout, folder: &Path) {
    for picture in layout.pictures.values_mut() {
        let file =
            find(&picture.path, Some(folder)).unwrap_or_else(|| from_root(&picture.path, folder));
        if let Some(text) = file.to_str() {
            picture.path = text.to_owned();
        }
    }
}

/// A layout as it is written into a folder: with its pictures named by the way from there.
pub(super) fn given_out<'a>(layout: &'a Layout, folder: &Path) -> Cow<'a, Layout> {
    if layout.pictures.is_empty() {
        return Cow::Borrowed(layout);
    }
    let mut layout = layout.clone();
    for picture in layout.pictures.values_mut() {
        // A path that is not from the root was typed into a layout that has no folder: it stays as it is.
        let file = Path::new(&picture.path);
        if file.has_root()
            && let Some(way) = way(folder, file)
        {
            picture.path = way;
        }
    }
    Cow::Owned(layout)
}

#[cfg(all(test, unix))]
mod tests {
    #![allow(clippy::unwrap_used)]
    use proptest::prelude::*;

    use super::*;

    fn words() -> impl Strategy<Value = Vec<String>> {
        prop::collection::vec("[a-z]{1,3}", 0..4)
    }

    fn path(parts: &[String]) -> PathBuf {
        Path::new("/").join(parts.join("/"))
    }

    proptest! {
        #[test]
        fn the_way_from_a_folder_leads_to_the_file(folder in words(), file in words()) {
            let (folder, file) = (path(&folder), path(&file).join("plan.png"));
            let way = way(&folder, &file).unwrap();
            prop_assert!(!way.starts_with('/'), "{}", way);
            prop_assert_eq!(from_root(&way, &folder), file);
        }

        #[test]
        fn a_path_that_is_short_comes_back_as_it_was(
            folder in words(), ups in 0usize..3, downs in words(),
        ) {
            // Named so that no folder is left and entered again.
            let folder = path(&folder).join("here").join("layouts");
            let way_in = ["../"].repeat(ups).concat() + &downs.join("-") + "-plan.png";
            prop_assert_eq!(way(&folder, &from_root(&way_in, &folder)), Some(way_in));
        }
    }
}
