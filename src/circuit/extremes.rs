//! The least and the largest value of a figure over a box of uncertain values.
use std::collections::BTreeMap;

use super::network::{BranchId, Network};
use super::solve::Sensitivity;

/// The range of one uncertain value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ParamRange {
    /// Its least value.
    pub lo: f64,
    /// The value it is taken to have.
    pub nominal: f64,
    /// Its largest value.
    pub hi: f64,
}

/// One uncertain value that sets several branches, such as the on-resistance that two switches share.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Param {
    /// Branches whose resistance it sets, with the factor from the value to Ω.
    pub ohm_of: Vec<(BranchId, f64)>,
    /// Branches whose source voltage it sets, with the factor from the value to V (−1 for a diode's forward voltage).
    pub volts_of: Vec<(BranchId, f64)>,
}

impl Param {
    /// Sets the branches' values in a network.
    pub fn set(&self, net: &mut Network, value: f64) {
        for &(branch, factor) in &self.ohm_of {
            net.set_ohm(branch, factor * value);
        }
        for &(branch, factor) in &self.volts_of {
            net.set_volts(branch, factor * value);
        }
    }

    /// How the figure of a sensitivity changes with this value, A per unit of it.
    pub fn slope(&self, sensitivity: &Sensitivity) -> f64 {
        let sum = |of: &[(BranchId, f64)], per: &[f64]| -> f64 {
            of.iter().filter_map(|(b, factor)| per.get(b.0).map(|slope| slope * factor)).sum()
        };
        sum(&self.ohm_of, &sensitivity.per_ohm) + sum(&self.volts_of, &sensitivity.per_volt)
    }
}

/// The extremes of a figure over a box, and where they are.
#[derive(Debug, Clone, PartialEq)]
pub struct Extremes {
    /// The least value found.
    pub min: f64,
    /// The largest value found.
    pub max: f64,
    /// The values that give the least.
    pub argmin: Vec<f64>,
    /// The values that give the largest.
    pub argmax: Vec<f64>,
    /// Whether every combination of the axes along which the slope was seen to change its sign was tried. If not, the
    /// extremes are only the best of the corners that were.
    pub exhausted: bool,
    /// How often the figure was evaluated.
    pub evaluations: usize,
}

/// A figure and its slope along each axis.
pub type FigureAt<E> = Result<(f64, Vec<f64>), E>;

/// The most axes whose combinations are all tried.
const ENUMERABLE_AXES: usize = 8;
/// An axis whose slope over its whole range comes to less than this, A and relative, counts as flat there.
const FLAT: f64 = 1e-9;
/// Flips of corners before a search gives up on signs alone.
const FLIPS: usize = 24;

/// Finds the least and the largest value of a figure over the box of `params`.
///
/// `eval` gives the figure and its slope along each axis at given values. The figure must be monotone along each axis
/// while the others rest, as a signed branch current is in one diode state (affine in every voltage, fractional-linear in
/// every resistance), or nearly so, as across diode states; a sum of such figures is watched by its signs. A magnitude is
/// not: pass the signed current. Its extremes then lie at corners. Each search goes from the nominal values to the corner
/// that the slopes' signs point to, and on until a corner agrees with its own slopes. The axes along which different
/// signs were seen anywhere are then tried in all combinations, up to eight of them, and the searches go on from the best.
/// The searches also start from the corners with everything low and everything high, and from both ends of each axis that
/// is flat at the nominal values, but for those that are `inert`: along them nothing changes from the nominal values to
/// either end. An axis of which nothing is said is not inert.
///
/// It is a search, not a proof. On bridges joined over a gap no sample was found beyond its answer. On random networks
/// with every value uncertain by a fifth to a factor of two, one of 200 samples lies beyond for about one network in a
/// thousand without diodes and one or two in a hundred with; in many of those the figure is flat, as behind a diode that
/// is off at the nominal values and stays so until two values move at once. Where it matters, see that the nominal state
/// is a conducting one.
///
/// # Errors
/// The first error of `eval`.
pub fn extremes<E>(
    params: &[ParamRange],
    inert: &[bool],
    eval: &mut dyn FnMut(&[f64]) -> FigureAt<E>,
) -> Result<Extremes, E> {
    let mut search = Search::start(params, eval)?;
    let nominal = search.slopes.clone();
    for upward in [true, false] {
        let corner = search.corner_of(&nominal, upward);
        search.climb(corner, upward)?;
    }
    search.probe(&nominal, inert)?;
    let exhausted = search.enumerate()?;
    Ok(Extremes {
        min: search.min.0,
        max: search.max.0,
        argmin: search.min.1,
        argmax: search.max.1,
        exhausted,
        evaluations: search.evaluations,
    })
}

type Eval<'a, E> = &'a mut dyn FnMut(&[f64]) -> FigureAt<E>;

struct Search<'a, E> {
    lo: Vec<f64>,
    hi: Vec<f64>,
    nominal: Vec<f64>,
    eval: Eval<'a, E>,
    min: (f64, Vec<f64>),
    max: (f64, Vec<f64>),
    /// Slopes at the last point, 0 where there is none.
    slopes: Vec<f64>,
    rises: Vec<bool>,
    falls: Vec<bool>,
    /// Corners looked at, with the figure and slopes there.
    seen: BTreeMap<Vec<bool>, (f64, Vec<f64>)>,
    evaluations: usize,
}

impl<'a, E> Search<'a, E> {
    fn start(params: &[ParamRange], eval: Eval<'a, E>) -> Result<Self, E> {
        let nominal: Vec<f64> = params.iter().map(|p| p.nominal).collect();
        let mut search = Search {
            lo: params.iter().map(|p| p.lo.min(p.hi)).collect(),
            hi: params.iter().map(|p| p.hi.max(p.lo)).collect(),
            nominal: nominal.clone(),
            eval,
            min: (f64::INFINITY, nominal.clone()),
            max: (f64::NEG_INFINITY, nominal.clone()),
            slopes: Vec::new(),
            rises: vec![false; params.len()],
            falls: vec![false; params.len()],
            seen: BTreeMap::new(),
            evaluations: 0,
        };
        search.look(&nominal)?;
        Ok(search)
    }

    fn look(&mut self, values: &[f64]) -> Result<f64, E> {
        self.evaluations += 1;
        let (figure, mut slopes) = (self.eval)(values)?;
        slopes.resize(values.len(), 0.0);
        for (axis, slope) in slopes.iter_mut().enumerate() {
            let effect = slope.abs() * (self.hi[axis] - self.lo[axis]);
            // Rounding and leaks slope both ways; so does a NaN, which this catches too.
            if effect.is_nan() || effect <= FLAT * (1.0 + figure.abs()) {
                *slope = 0.0;
            }
        }
        for (axis, &slope) in slopes.iter().enumerate() {
            self.rises[axis] |= slope > 0.0;
            self.falls[axis] |= slope < 0.0;
        }
        self.slopes = slopes;
        if figure > self.max.0 {
            self.max = (figure, values.to_vec());
        }
        if figure < self.min.0 {
            self.min = (figure, values.to_vec());
        }
        Ok(figure)
    }

    /// Looks at a corner, or remembers it.
    fn look_at_corner(&mut self, corner: &[bool]) -> Result<f64, E> {
        // Both ends of an exact value are one.
        let corner: Vec<bool> =
            (0..corner.len()).map(|k| corner[k] && self.lo[k] < self.hi[k]).collect();
        if let Some((figure, slopes)) = self.seen.get(&corner) {
            self.slopes.clone_from(slopes);
            return Ok(*figure);
        }
        let values: Vec<f64> =
            (0..corner.len()).map(|k| if corner[k] { self.hi[k] } else { self.lo[k] }).collect();
        let figure = self.look(&values)?;
        self.seen.insert(corner, (figure, self.slopes.clone()));
        Ok(figure)
    }

    fn corner_of(&self, slopes: &[f64], upward: bool) -> Vec<bool> {
        slopes.iter().map(|&slope| (slope >= 0.0) == upward).collect()
    }

    /// Goes from corner to corner by the signs of the slopes; when all that disagree, turned at once, lead to a worse
    /// corner, only the first of them is turned.
    fn climb(&mut self, mut corner: Vec<bool>, upward: bool) -> Result<(), E> {
        let mut best = if upward { f64::NEG_INFINITY } else { f64::INFINITY };
        for flip in 0..FLIPS {
            let reached = self.look_at_corner(&corner)?;
            let gained = if upward { reached > best } else { reached < best };
            best = if upward { reached.max(best) } else { reached.min(best) };
            let mut turned = false;
            for (axis, high) in corner.iter_mut().enumerate() {
                let slope = self.slopes[axis];
                let wanted = (slope > 0.0) == upward;
                if slope != 0.0 && *high != wanted && (flip == 0 || gained || !turned) {
                    *high = wanted;
                    turned = true;
                }
            }
            if !turned {
                break;
            }
        }
        Ok(())
    }

    /// Looks where the signs at the nominal values do not lead: from the corners with everything low and everything high,
    /// and to both ends of each axis that is flat at the nominal values and not inert, as behind a diode that is off there.
    fn probe(&mut self, nominal: &[f64], inert: &[bool]) -> Result<(), E> {
        for high in [false, true] {
            for upward in [true, false] {
                self.climb(vec![high; nominal.len()], upward)?;
            }
        }
        let center = self.nominal.clone();
        for axis in (0..nominal.len())
            .filter(|&k| nominal[k] == 0.0 && self.lo[k] < self.hi[k])
            .filter(|&k| !inert.get(k).copied().unwrap_or(false))
            .collect::<Vec<_>>()
        {
            for end in [self.lo[axis], self.hi[axis]] {
                let mut values = center.clone();
                values[axis] = end;
                self.look(&values)?;
                let slopes = self.slopes.clone();
                if slopes.iter().zip(nominal).any(|(now, then)| *now != 0.0 && *then == 0.0) {
                    for upward in [true, false] {
                        let corner = self.corner_of(&slopes, upward);
                        self.climb(corner, upward)?;
                    }
                }
            }
        }
        Ok(())
    }

    fn both_ways(&self) -> Vec<usize> {
        (0..self.lo.len())
            .filter(|&k| self.rises[k] && self.falls[k] && self.lo[k] < self.hi[k])
            .collect()
    }

    fn corner_at(&self, values: &[f64], upward: bool) -> Vec<bool> {
        (0..values.len())
            .map(|k| {
                if self.rises[k] == self.falls[k] {
                    values[k] >= self.hi[k]
                } else {
                    self.rises[k] == upward
                }
            })
            .collect()
    }

    /// Tries all combinations of the axes seen to slope both ways, again while more of them show. Says whether it could.
    fn enumerate(&mut self) -> Result<bool, E> {
        let mut tried = Vec::new();
        loop {
            let axes = self.both_ways();
            if axes == tried {
                return Ok(true);
            }
            if axes.len() > ENUMERABLE_AXES {
                return Ok(false);
            }
            for upward in [true, false] {
                let values = if upward { self.max.1.clone() } else { self.min.1.clone() };
                let mut corner = self.corner_at(&values, upward);
                for state in 0..1_usize << axes.len() {
                    for (bit, &axis) in axes.iter().enumerate() {
                        corner[axis] = state >> bit & 1 == 1;
                    }
                    self.look_at_corner(&corner)?;
                }
                let values = if upward { self.max.1.clone() } else { self.min.1.clone() };
                let corner = self.corner_at(&values, upward);
                self.climb(corner, upward)?;
            }
            tried = axes;
        }
    }
}
