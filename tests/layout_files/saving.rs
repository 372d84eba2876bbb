//! Saving: what is there stays what it is, nothing is torn, and one earlier copy is kept.
//!
//! Root may do everything, so no test counts on a missing right.

use std::fs;
use std::path::{Path, PathBuf};

use gapwright::layout::{Layout, earlier, io_words, read_path, write_path};

fn named(name: &str) -> Layout {
    Layout { name: name.to_owned(), ..Layout::default() }
}

fn name_in(path: &Path) -> String {
    read_path(path).unwrap().layout.name
}

/// Names in a folder, in order.
fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

fn refused(path: &Path) -> String {
    io_words(&write_path(&named("New"), path).unwrap_err())
}

#[test]
fn the_file_as_it_was_is_kept_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("brook end.gapwright");
    write_path(&named("First"), &path).unwrap();
    assert_eq!(names(folder.path()), ["brook end.gapwright"]);
    let modified = fs::metadata(&path).unwrap().modified().unwrap();
    write_path(&named("Second"), &path).unwrap();
    assert_eq!(names(folder.path()), ["brook end.gapwright", "brook end.gapwright.earlier"]);
    let copy = folder.path().join("brook end.gapwright.earlier");
    assert_eq!(earlier(&path), copy);
    assert_eq!((name_in(&path).as_str(), name_in(&copy).as_str()), ("Second", "First"));
    assert_eq!(fs::metadata(&copy).unwrap().modified().unwrap(), modified);
    // Saving the same again does not push the earlier state out.
    write_path(&named("Second"), &path).unwrap();
    assert_eq!((name_in(&path).as_str(), name_in(&copy).as_str()), ("Second", "First"));
    write_path(&named("Third"), &path).unwrap();
    assert_eq!((name_in(&path).as_str(), name_in(&copy).as_str()), ("Third", "Second"));
    // Whatever is saved over, layout or not.
    let notes = folder.path().join("notes.txt");
    fs::write(&notes, [0xff, 0x00]).unwrap();
    write_path(&named("Third"), &notes).unwrap();
    assert_eq!(fs::read(earlier(&notes)).unwrap(), [0xff, 0x00]);
}

#[test]
fn without_a_copy_nothing_is_saved() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("brook end.gapwright");
    write_path(&named("First"), &path).unwrap();
    fs::create_dir_all(earlier(&path).join("inside")).unwrap();
    let why = refused(&path);
    assert!(
        why.contains("brook end.gapwright.earlier") && why.contains("cannot be written"),
        "{why}"
    );
    assert_eq!(name_in(&path), "First");
    assert_eq!(names(folder.path()).len(), 2, "nothing is left aside");
}

#[test]
fn what_a_killed_save_left_is_removed_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("brook end.gapwright");
    let at = |name: &str| folder.path().join(name);
    for name in [".gapwright-a1B2c3.saving", ".gapwright-zzzzzz.saving"] {
        fs::write(at(name), "(version: 1, na").unwrap();
    }
    let others = [".gapwright-notes", "x.saving", ".gapwright-.saving", ".gapwright-a b.saving"];
    others.iter().for_each(|name| fs::write(at(name), "mine").unwrap());
    fs::create_dir(at(".gapwright-folder.saving")).unwrap();
    // Another program is at its save: it holds the lock.
    let at_work = fs::File::create(at(".gapwright-atwork.saving")).unwrap();
    at_work.lock().unwrap();
    write_path(&named("First"), &path).unwrap();
    let mut left =
        vec!["brook end.gapwright", ".gapwright-folder.saving", ".gapwright-atwork.saving"];
    left.extend(others);
    left.sort_unstable();
    assert_eq!(names(folder.path()), left);
    drop(at_work);
    write_path(&named("First"), &path).unwrap();
    assert!(!at(".gapwright-atwork.saving").exists());
}

#[test]
fn a_folder_that_is_gone_and_a_path_through_a_file_are_explained() {
    let folder = tempfile::tempdir().unwrap();
    let gone = folder.path().join("gone");
    fs::create_dir(&gone).unwrap();
    write_path(&named("First"), &gone.join("a.gapwright")).unwrap();
    fs::remove_dir_all(&gone).unwrap();
    assert!(refused(&gone.join("a.gapwright")).contains("no such file or folder"));
    let file = folder.path().join("file");
    fs::write(&file, "mine").unwrap();
    assert!(refused(&file.join("a.gapwright")).contains("a file, not a folder"));
    assert!(refused(folder.path()).contains("this is a folder"));
    assert_eq!(names(folder.path()), ["file"]);
}

#[cfg(unix)]
mod unix {
    use std::os::unix::fs::{FileTypeExt, MetadataExt, PermissionsExt, chown, symlink};

    use super::*;

    fn mode(path: &Path) -> u32 {
        fs::metadata(path).unwrap().permissions().mode() & 0o7777
    }

    #[test]
    fn the_mode_stays_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.gapwright");
        write_path(&named("First"), &path).unwrap();
        let plain = folder.path().join("plain");
        fs::write(&plain, "").unwrap();
        assert_eq!(mode(&path), mode(&plain), "a new file is as any other");
        // What the usual mask of new files takes away is not taken away.
        for bits in [0o666, 0o664, 0o640, 0o600, 0o755] {
            fs::set_permissions(&path, fs::Permissions::from_mode(bits)).unwrap();
            write_path(&named(&format!("{bits:o}")), &path).unwrap();
            assert_eq!(mode(&path), bits);
            assert_eq!(mode(&earlier(&path)), bits);
        }
    }

    #[test]
    fn the_owner_stays_where_that_is_permitted() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.gapwright");
        write_path(&named("First"), &path).unwrap();
        if chown(&path, Some(12_345), Some(23_456)).is_err() {
            // Only root may give files away; the others can only own what they save.
            return;
        }
        write_path(&named("Second"), &path).unwrap();
        for path in [&path, &earlier(&path)] {
            let file = fs::metadata(path).unwrap();
            assert_eq!((file.uid(), file.gid()), (12_345, 23_456));
        }
    }

    #[test]
    fn a_symbolic_link_stays_one() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("club")).unwrap();
        symlink("club/real.gapwright", at("link.gapwright")).unwrap();
        symlink(at("link.gapwright"), at("club/second.gapwright")).unwrap();
        // The first save makes the file that the links lead to, the second one replaces it.
        for name in ["First", "Second"] {
            write_path(&named(name), &at("club/second.gapwright")).unwrap();
            for link in ["link.gapwright", "club/second.gapwright"] {
                assert!(fs::symlink_metadata(at(link)).unwrap().is_symlink(), "{link}");
            }
            assert!(fs::symlink_metadata(at("club/real.gapwright")).unwrap().is_file());
            assert_eq!(name_in(&at("club/real.gapwright")), name);
        }
        assert_eq!(name_in(&at("club/real.gapwright.earlier")), "First");
        symlink("round.gapwright", at("round.gapwright")).unwrap();
        assert!(refused(&at("round.gapwright")).contains("circle"));
    }

    #[test]
    fn a_file_with_two_names_keeps_both() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        write_path(&Layout { notes: "long ".repeat(1000), ..named("First") }, &at("a.gapwright"))
            .unwrap();
        fs::hard_link(at("a.gapwright"), at("b.gapwright")).unwrap();
        write_path(&named("Second"), &at("a.gapwright")).unwrap();
        assert_eq!((name_in(&at("a.gapwright")), name_in(&at("b.gapwright"))).0, "Second");
        assert_eq!(name_in(&at("b.gapwright")), "Second");
        assert_eq!(fs::metadata(at("a.gapwright")).unwrap().nlink(), 2);
        assert_eq!(name_in(&at("a.gapwright.earlier")), "First");
        assert_eq!(names(folder.path()).len(), 3);
    }

    #[test]
    fn devices_and_pipes_are_not_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let pipe = folder.path().join("pipe.gapwright");
        assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        for path in [Path::new("/dev/full"), Path::new("/dev/null"), &pipe] {
            assert!(refused(path).contains("not a file"), "{}", path.display());
            let kind = fs::metadata(path).unwrap().file_type();
            assert!(kind.is_char_device() || kind.is_fifo());
        }
        assert_eq!(names(folder.path()), ["pipe.gapwright"]);
    }

    #[test]
    fn a_disk_that_fills_up_costs_nothing() {
        let folder = tempfile::tempdir().unwrap();
        for links in [1, 2] {
            let path = folder.path().join(format!("{links}.gapwright"));
            write_path(&named("First"), &path).unwrap();
            if links == 2 {
                fs::hard_link(&path, folder.path().join("other name")).unwrap();
            }
            let before = names(folder.path());
            // No file may grow beyond 512 or 1024 bytes there; the signal that says so is ignored.
            let test = std::env::current_exe().unwrap();
            let done = std::process::Command::new("sh")
                .args(["-c", "trap '' XFSZ; ulimit -f 1; exec \"$0\" \"$@\""])
                .arg(test)
                .args(["--exact", "saving::unix::child_saves_too_much", "--ignored", "--nocapture"])
                .env("SAVED_TO", &path)
                .output()
                .unwrap();
            let said = String::from_utf8_lossy(&done.stdout);
            assert!(said.contains("refused: the file would be larger"), "{said}");
            assert_eq!(name_in(&path), "First");
            assert_eq!(names(folder.path()), before);
        }
    }

    #[test]
    #[ignore = "started by `a_disk_that_fills_up_costs_nothing`"]
    fn child_saves_too_much() {
        let Some(path) = std::env::var_os("SAVED_TO") else { return };
        let large = Layout { notes: "much ".repeat(10_000), ..named("Large") };
        let error = write_path(&large, Path::new(&path)).unwrap_err();
        println!("refused: {}", io_words(&error));
    }
}

/// Programs that are killed while they save.
mod killed {
    use std::io::{BufRead, BufReader};
    use std::process::{Command, Stdio};
    use std::time::{Duration, UNIX_EPOCH};

    use super::*;

    /// The two states between which the killed program changes its file.
    fn states() -> [Layout; 2] {
        ["one", "the other"].map(|name| Layout { notes: name.repeat(100_000), ..named(name) })
    }

    /// True if the file holds one of the states, whole.
    fn is_whole(path: &Path) -> bool {
        let loaded = read_path(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        states().contains(&loaded.layout)
    }

    /// Starts a program that saves on and on, and kills it at some moment, so many times. Returns how often it was in the
    /// middle of a save.
    fn kill(times: usize) -> usize {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("brook end.gapwright");
        write_path(&states()[0], &path).unwrap();
        let mut moment = UNIX_EPOCH.elapsed().unwrap().as_nanos() as u64 | 1;
        let mut midway = 0;
        for _ in 0..times {
            let mut child = Command::new(std::env::current_exe().unwrap())
                .args(["--exact", "saving::killed::child_saves_on_and_on", "--ignored"])
                .arg("--nocapture")
                .env("SAVED_TO", &path)
                .stdout(Stdio::piped())
                .spawn()
                .unwrap();
            let said = BufReader::new(child.stdout.take().unwrap());
            assert!(said.lines().map_while(Result::ok).any(|line| line.contains("saves now")));
            // Any moment within a few saves: a xorshift generator.
            moment ^= moment << 13;
            moment ^= moment >> 7;
            moment ^= moment << 17;
            std::thread::sleep(Duration::from_micros(moment % 20_000));
            child.kill().unwrap();
            child.wait().unwrap();
            assert!(is_whole(&path));
            assert!(!earlier(&path).exists() || is_whole(&earlier(&path)));
            midway +=
                usize::from(names(folder.path()).iter().any(|name| name.ends_with(".saving")));
        }
        write_path(&named("Last"), &path).unwrap();
        assert_eq!(names(folder.path()), ["brook end.gapwright", "brook end.gapwright.earlier"]);
        midway
    }

    #[test]
    fn a_program_that_is_killed_while_it_saves_tears_nothing() {
        kill(20);
    }

    #[test]
    #[ignore = "takes minutes"]
    fn a_thousand_killed_programs_tear_nothing() {
        let times = 1_000;
        let midway = kill(times);
        println!("{times} killed, {midway} of them in the middle of a save, 0 files torn");
        assert!(midway > times / 10, "too few were killed in the middle of a save: {midway}");
    }

    #[test]
    #[ignore = "started by the tests above, and killed"]
    fn child_saves_on_and_on() {
        let Some(path) = std::env::var_os("SAVED_TO").map(PathBuf::from) else { return };
        let states = states();
        println!("saves now");
        for state in states.iter().cycle() {
            write_path(state, &path).unwrap();
        }
    }
}
