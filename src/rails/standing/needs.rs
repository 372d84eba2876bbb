//! What a way through the metal asks of the selectors, and sets of such ways of which none asks more than another.

/// Work that may still be done.
#[derive(Debug, Clone, Copy)]
pub struct Steps {
    pub left: u64,
}

/// The work allowed is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spent;

impl Steps {
    pub fn take(&mut self, steps: usize) -> Result<(), Spent> {
        match self.left.checked_sub(steps as u64) {
            Some(left) => {
                self.left = left;
                Ok(())
            }
            None => {
                self.left = 0;
                Err(Spent)
            }
        }
    }
}

/// Each selector named stands in one of the positions of its mask. Sorted by selector; no mask is empty or full.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Needs {
    of: Vec<(usize, u64)>,
    /// Selectors folded into 64 bits: most comparisons end here.
    folded: u64,
}

impl From<Vec<(usize, u64)>> for Needs {
    fn from(of: Vec<(usize, u64)>) -> Self {
        let folded = of.iter().fold(0, |folded, &(selector, _)| folded | 1 << (selector % 64));
        Needs { of, folded }
    }
}

impl Needs {
    pub fn list(&self) -> &[(usize, u64)] {
        &self.of
    }

    pub fn into_list(self) -> Vec<(usize, u64)> {
        self.of
    }

    /// Both at once, if some position of every selector allows it.
    pub fn and(&self, other: &Needs) -> Option<Needs> {
        let mut of = Vec::with_capacity(self.of.len() + other.of.len());
        let (mut left, mut right) = (self.of.iter().peekable(), other.of.iter().peekable());
        loop {
            match (left.peek(), right.peek()) {
                (Some(&&(a, mask_a)), Some(&&(b, mask_b))) => {
                    if a <= b {
                        left.next();
                    }
                    if b <= a {
                        right.next();
                    }
                    match a.cmp(&b) {
                        std::cmp::Ordering::Less => of.push((a, mask_a)),
                        std::cmp::Ordering::Greater => of.push((b, mask_b)),
                        std::cmp::Ordering::Equal if mask_a & mask_b == 0 => return None,
                        std::cmp::Ordering::Equal => of.push((a, mask_a & mask_b)),
                    }
                }
                (Some(&&need), None) => {
                    left.next();
                    of.push(need);
                }
                (None, Some(&&need)) => {
                    right.next();
                    of.push(need);
                }
                (None, None) => break,
            }
        }
        Some(Needs { of, folded: self.folded | other.folded })
    }

    /// Whether this is met wherever `other` is.
    pub fn within(&self, other: &Needs) -> bool {
        if self.folded & !other.folded != 0 || self.of.len() > other.of.len() {
            return false;
        }
        let mut theirs = other.of.iter();
        self.of.iter().all(|&(selector, mask)| {
            theirs
                .by_ref()
                .find(|their| their.0 >= selector)
                .is_some_and(|their| their.0 == selector && their.1 & !mask == 0)
        })
    }
}

/// Alternatives, none of which is met wherever another is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sets(Vec<Needs>);

impl From<Needs> for Sets {
    fn from(needs: Needs) -> Self {
        Sets(vec![needs])
    }
}

impl Sets {
    pub fn iter(&self) -> std::slice::Iter<'_, Needs> {
        self.0.iter()
    }

    pub fn len(&self) -> usize {
        self.0.len()
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn into_vec(self) -> Vec<Needs> {
        self.0
    }

    /// Whether one of them is met wherever `needs` are.
    pub fn cover(&self, needs: &Needs) -> bool {
        self.0.iter().any(|held| held.within(needs))
    }

    /// One alternative more; false if it adds nothing.
    pub fn add(&mut self, needs: Needs, steps: &mut Steps) -> Result<bool, Spent> {
        steps.take(1 + self.0.len())?;
        if self.cover(&needs) {
            return Ok(false);
        }
        self.0.retain(|held| !needs.within(held));
        self.0.push(needs);
        Ok(true)
    }

    /// One of these and one of those, in all ways that some positions allow.
    pub fn and(&self, other: &Sets, steps: &mut Steps) -> Result<Sets, Spent> {
        let mut both = Sets::default();
        for one in &self.0 {
            for another in &other.0 {
                steps.take(1 + (one.of.len() + another.of.len()) / 8)?;
                if let Some(needs) = one.and(another) {
                    both.add(needs, steps)?;
                }
            }
        }
        Ok(both)
    }
}
