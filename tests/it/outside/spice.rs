//! Runs ngspice and reads figures from what it wrote; keeps them beside the decks.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde::{Deserialize, Serialize};

use super::deck::Window;

/// Peak of the magnitude, mean, mean of the magnitude, RMS, A.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, PartialEq)]
pub struct Figures {
    pub peak: f64,
    pub mean: f64,
    pub mean_abs: f64,
    pub rms: f64,
}

/// The currents of one driver, and what its supply's poles are lifted to.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, PartialEq)]
pub struct Legs {
    pub p: Figures,
    pub m: Figures,
    pub supply: Figures,
    /// Highest voltage between the poles of its supply, V; none for a smooth throttle, which has poles of its own.
    pub pole_v: Option<f64>,
}

/// What ngspice said about one deck.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
pub struct Recorded {
    /// The version that said it.
    pub ngspice: String,
    /// By driver.
    pub drivers: BTreeMap<String, Legs>,
}

const MISSING: &str = "ngspice is not installed: this test runs it live (Debian package `ngspice`)";

/// The installed version, or a panic that says what to install.
pub fn version() -> String {
    let out = Command::new("ngspice").arg("--version").output().expect(MISSING);
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    text.split_whitespace()
        .find(|word| word.starts_with("ngspice-"))
        .unwrap_or_else(|| panic!("ngspice does not tell its version: {text}"))
        .to_string()
}

/// Where decks and recorded values lie.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/ngspice")
}

pub fn deck_path(name: &str) -> PathBuf {
    folder().join(format!("{name}.cir"))
}

pub fn recorded_path(name: &str) -> PathBuf {
    folder().join(format!("{name}.ron"))
}

/// Waveforms: time and everything saved, by name.
pub struct Waves {
    pub time: Vec<f64>,
    pub saved: BTreeMap<String, Vec<f64>>,
}

fn read_raw(bytes: &[u8]) -> Waves {
    let mark = b"Binary:\n";
    let at = bytes.windows(mark.len()).position(|w| w == mark).expect("a binary raw file");
    let head = String::from_utf8_lossy(&bytes[..at]);
    let number = |key: &str| -> usize {
        let line = head.lines().find(|l| l.starts_with(key)).expect(key);
        line[key.len()..].trim().parse().expect(key)
    };
    let (variables, points) = (number("No. Variables:"), number("No. Points:"));
    let names: Vec<String> = head
        .lines()
        .skip_while(|l| !l.starts_with("Variables:"))
        .skip(1)
        .take(variables)
        .map(|l| l.split_whitespace().nth(1).expect("a name").to_lowercase())
        .collect();
    let values: Vec<f64> = bytes[at + mark.len()..]
        .chunks_exact(8)
        .map(|b| f64::from_le_bytes(b.try_into().unwrap()))
        .collect();
    assert_eq!(values.len(), variables * points, "length of the raw file");
    let column =
        |n: usize| -> Vec<f64> { values.iter().skip(n).step_by(variables).copied().collect() };
    Waves {
        time: column(0),
        saved: names
            .iter()
            .enumerate()
            .skip(1)
            .map(|(n, name)| (name.clone(), column(n)))
            .collect(),
    }
}

/// A stretch shorter than this is an edge, s: it counts in no peak.
const EDGE_S: f64 = 3e-7;

fn figures(time: &[f64], amps: &[f64], window: Window) -> Figures {
    let (from, to) = (window.from_s, window.from_s + window.length_s);
    let mut f = Figures { peak: 0.0, mean: 0.0, mean_abs: 0.0, rms: 0.0 };
    for (t, i) in time.windows(2).zip(amps.windows(2)) {
        let (start, end) = (t[0].max(from), t[1].min(to));
        if end <= start {
            continue;
        }
        let at = |x: f64| i[0] + (i[1] - i[0]) * (x - t[0]) / (t[1] - t[0]);
        let (a, b, length) = (at(start), at(end), end - start);
        f.mean += length * (a + b) / 2.0;
        f.rms += length * (a * a + a * b + b * b) / 3.0;
        f.mean_abs += length
            * if a * b >= 0.0 {
                (a.abs() + b.abs()) / 2.0
            } else {
                (a * a + b * b) / (2.0 * (a.abs() + b.abs()))
            };
        if t[1] - t[0] > EDGE_S {
            f.peak = f.peak.max(a.abs().min(b.abs()));
        }
    }
    f.mean /= window.length_s;
    f.mean_abs /= window.length_s;
    f.rms = (f.rms / window.length_s).sqrt();
    f
}

impl Waves {
    /// The value of something saved at a time, on the line between two points.
    pub fn at(&self, name: &str, time_s: f64) -> f64 {
        let values = self.saved.get(name).unwrap_or_else(|| panic!("no {name}"));
        let next = self.time.partition_point(|t| *t < time_s).clamp(1, self.time.len() - 1);
        let (a, b) = (self.time[next - 1], self.time[next]);
        let share = if b > a { ((time_s - a) / (b - a)).clamp(0.0, 1.0) } else { 0.0 };
        values[next - 1] + share * (values[next] - values[next - 1])
    }
}

/// Runs a deck and gives its waveforms; in words why, if ngspice gives up.
pub fn waves(name: &str, deck: &str) -> Result<Waves, String> {
    let folder = tempfile::tempdir().unwrap();
    let (cir, raw) = (folder.path().join("deck.cir"), folder.path().join("out.raw"));
    std::fs::write(&cir, deck).unwrap();
    let out =
        Command::new("ngspice").arg("-b").arg("-r").arg(&raw).arg(&cir).output().expect(MISSING);
    let log = || {
        format!("{}{}", String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr))
    };
    let bytes =
        std::fs::read(&raw).unwrap_or_else(|_| panic!("{name}: ngspice wrote nothing\n{}", log()));
    if !out.status.success() {
        return Err(format!("{name}: ngspice gave up\n{}\n{deck}", log()));
    }
    Ok(read_raw(&bytes))
}

/// Runs a deck; in words why, if ngspice gives up.
pub fn run(
    name: &str,
    deck: &str,
    drivers: &[(String, Option<String>)],
    window: Window,
    version: &str,
) -> Result<Recorded, String> {
    let waves = waves(name, deck)?;
    let stop = window.from_s + window.length_s;
    let reached = waves.time.last().copied().unwrap_or(0.0);
    assert!(reached >= stop * (1.0 - 1e-9), "{name}: ngspice stopped at {reached} s");
    let of = |id: &str, leg: &str| {
        let key = format!("i(v{id}_{leg})");
        let amps = waves.saved.get(&key).unwrap_or_else(|| panic!("{name}: no {key}"));
        figures(&waves.time, amps, window)
    };
    let pole_v = |supply: &str| {
        let node = |pole: &str| &waves.saved[&format!("v({supply}_{pole})")];
        let between: Vec<f64> =
            node("plus").iter().zip(node("minus")).map(|(a, b)| a - b).collect();
        figures(&waves.time, &between, window).peak
    };
    Ok(Recorded {
        ngspice: version.to_string(),
        drivers: drivers
            .iter()
            .map(|(id, supply)| {
                let legs = Legs {
                    p: of(id, "p"),
                    m: of(id, "m"),
                    supply: of(id, "supply"),
                    pole_v: supply.as_ref().map(|s| pole_v(s)),
                };
                (id.clone(), legs)
            })
            .collect(),
    })
}

/// Reads the recorded values of a case.
pub fn recorded(name: &str) -> Recorded {
    let path = recorded_path(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    ron::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// Writes deck and values of a case.
pub fn record(name: &str, deck: &str, values: &Recorded) {
    let pretty = ron::ser::PrettyConfig::new().depth_limit(3);
    std::fs::write(deck_path(name), deck).unwrap();
    let text = ron::ser::to_string_pretty(values, pretty).unwrap();
    std::fs::write(recorded_path(name), text + "\n").unwrap();
}

/// Agreement asked for: 1 %.
const TOLERANCE: f64 = 0.01;
/// Below this a current is nobody's: what the 1 MΩ paths of a deck carry, and less than a contact notices, A.
const NOTHING_A: f64 = 1e-3;
/// The same for a voltage, V.
const NOTHING_V: f64 = 0.02;

/// Where figures differ by more than the tolerance, in words. A mean that nearly cancels is compared by the peak.
pub fn differences(ours: &BTreeMap<String, Legs>, theirs: &BTreeMap<String, Legs>) -> Vec<String> {
    let mut found = Vec::new();
    for (id, their) in theirs {
        let Some(our) = ours.get(id) else {
            // A driver that the engine leaves out must carry nothing.
            for (leg, f) in [("p", their.p), ("m", their.m), ("supply", their.supply)] {
                if f.peak > NOTHING_A {
                    found.push(format!("{id} {leg}: left out, but carries {} A", f.peak));
                }
            }
            continue;
        };
        if let Some(b) = their.pole_v {
            let a = our.pole_v.unwrap_or(f64::NAN);
            let off = (a - b).abs();
            if off.is_nan() || off > (TOLERANCE * b).max(NOTHING_V) {
                found.push(format!("{id} pole: ours {a} V, ngspice {b} V"));
            }
        }
        for (leg, our, their) in
            [("p", our.p, their.p), ("m", our.m, their.m), ("supply", our.supply, their.supply)]
        {
            let mean_scale =
                if their.mean.abs() < 0.1 * their.mean_abs { their.peak } else { their.mean.abs() };
            for (figure, a, b, scale) in [
                ("peak", our.peak, their.peak, their.peak),
                ("mean", our.mean, their.mean, mean_scale),
                ("mean of magnitude", our.mean_abs, their.mean_abs, their.mean_abs),
                ("RMS", our.rms, their.rms, their.rms),
            ] {
                let off = (a - b).abs();
                if off.is_nan() || off > (TOLERANCE * scale).max(NOTHING_A) {
                    found.push(format!("{id} {leg} {figure}: ours {a}, ngspice {b}"));
                }
            }
        }
    }
    found
}
