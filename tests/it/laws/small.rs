//! Small layouts on which a law broke once: each is a file in `tests/laws`, named after the law and the seed of its dice;
//! its notes say what broke the law.

use std::path::Path;

use gapwright::layout;

use super::harness::all_laws;
use crate::support::dice::Dice;

#[test]
fn laws_hold_where_they_broke_once() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/laws");
    let mut wrong = Vec::new();
    let mut tried = 0;
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let (name, seed) = stem.rsplit_once('-').unwrap();
        let seed: u64 = seed.parse().unwrap();
        let law = all_laws().find(|(law, _)| law.replace(' ', "-") == name).unwrap().1;
        let layout = layout::read_path(&path).unwrap().layout;
        tried += 1;
        if let Err(differs) = law(&layout, &mut Dice::new(!seed)) {
            wrong.push(format!("{stem}: {}\n{differs}", layout.notes));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(tried > 0);
}
