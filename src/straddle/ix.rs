//! Indices of a wiring, one type per kind of thing, and lists that accept one kind of index only.

use std::marker::PhantomData;
use std::ops::{Deref, DerefMut, Index, IndexMut};

use serde::{Serialize, Serializer};

use crate::units::ValueId;

/// A typed index.
pub trait Ix: By<Self> + Copy {
    /// The index of a position.
    fn new(at: usize) -> Self;
}

/// A key that stands for an index of type `I`: the index itself, or one that says more.
pub trait By<I> {
    /// The position.
    fn at(self) -> usize;
}

macro_rules! indices {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
        pub struct $name(pub usize);

        impl Ix for $name {
            fn new(at: usize) -> Self {
                $name(at)
            }
        }

        impl By<$name> for $name {
            fn at(self) -> usize {
                self.0
            }
        }
    )*};
}

indices! {
    /// Index of a net of a wiring.
    NetIx;
    /// Index of a shared negative of a wiring.
    TieIx;
    /// Index of a supply of a wiring.
    SupplyIx;
    /// Index of a driver of a wiring.
    DriverIx;
    /// Index of a device of a wiring.
    DeviceIx;
    /// Index of a way of standing over a place.
    StandIx;
    /// Index of a place at which a loaded vehicle stands on both blocks.
    FootingIx;
    /// Index of a driver on one pair of rails at a place.
    PartyIx;
}

impl Ix for ValueId {
    fn new(at: usize) -> Self {
        ValueId::new(at)
    }
}

impl<U> By<ValueId> for ValueId<U> {
    fn at(self) -> usize {
        ValueId::at(&self)
    }
}

/// A list that accepts one kind of index only. As a slice it has positions without meaning.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Table<I, T> {
    rows: Vec<T>,
    by: PhantomData<I>,
}

impl<I: Ix, T> Table<I, T> {
    /// An empty table.
    pub const fn new() -> Self {
        Table { rows: Vec::new(), by: PhantomData }
    }

    /// An empty table with room for some rows.
    pub fn with_capacity(rows: usize) -> Self {
        Vec::with_capacity(rows).into()
    }

    /// The same row at every one of `count` indices.
    pub fn filled(row: T, count: usize) -> Self
    where
        T: Clone,
    {
        vec![row; count].into()
    }

    /// Appends a row; returns its index.
    pub fn push(&mut self, row: T) -> I {
        self.rows.push(row);
        I::new(self.rows.len() - 1)
    }

    /// All indices, in order.
    pub fn indices(&self) -> impl DoubleEndedIterator<Item = I> + Clone + use<I, T> {
        (0..self.rows.len()).map(I::new)
    }

    /// All indices with their rows, in order.
    pub fn pairs(&self) -> impl Iterator<Item = (I, &T)> {
        self.rows.iter().enumerate().map(|(at, row)| (I::new(at), row))
    }

    /// The row at an index, `None` if there is none.
    pub fn get(&self, at: impl By<I>) -> Option<&T> {
        self.rows.get(at.at())
    }

    /// The index of the first row that satisfies a condition.
    pub fn find(&self, condition: impl FnMut(&T) -> bool) -> Option<I> {
        self.rows.iter().position(condition).map(I::new)
    }

    /// The index of the first row equal to a given one.
    pub fn of(&self, row: &T) -> Option<I>
    where
        T: PartialEq,
    {
        self.find(|other| other == row)
    }
}

impl<I, T> Default for Table<I, T> {
    fn default() -> Self {
        Vec::new().into()
    }
}

impl<I, T> From<Vec<T>> for Table<I, T> {
    fn from(rows: Vec<T>) -> Self {
        Table { rows, by: PhantomData }
    }
}

impl<I, T> FromIterator<T> for Table<I, T> {
    fn from_iter<A: IntoIterator<Item = T>>(rows: A) -> Self {
        rows.into_iter().collect::<Vec<T>>().into()
    }
}

impl<I, T: Serialize> Serialize for Table<I, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.rows.serialize(serializer)
    }
}

impl<I, T> Deref for Table<I, T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        &self.rows
    }
}

impl<I, T> DerefMut for Table<I, T> {
    fn deref_mut(&mut self) -> &mut [T] {
        &mut self.rows
    }
}

impl<I, K: By<I>, T> Index<K> for Table<I, T> {
    type Output = T;

    fn index(&self, at: K) -> &T {
        &self.rows[at.at()]
    }
}

impl<I, K: By<I>, T> IndexMut<K> for Table<I, T> {
    fn index_mut(&mut self, at: K) -> &mut T {
        &mut self.rows[at.at()]
    }
}

impl<I, T> IntoIterator for Table<I, T> {
    type Item = T;
    type IntoIter = std::vec::IntoIter<T>;

    fn into_iter(self) -> Self::IntoIter {
        self.rows.into_iter()
    }
}

impl<'a, I, T> IntoIterator for &'a Table<I, T> {
    type Item = &'a T;
    type IntoIter = std::slice::Iter<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.rows.iter()
    }
}

impl<'a, I, T> IntoIterator for &'a mut Table<I, T> {
    type Item = &'a mut T;
    type IntoIter = std::slice::IterMut<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.rows.iter_mut()
    }
}
