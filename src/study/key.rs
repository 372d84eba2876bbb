//! Content keys: what a value is, bit by bit, for remembering results by it.
//!
//! A key is made from all fields that `Serialize` visits, so a derived key covers a field that is added later. Floats count
//! by their bits. Two values of one type have equal keys only if all their fields are equal.

use std::borrow::Borrow;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::marker::PhantomData;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use serde::ser::{self, Serialize};

/// The content of a value of type `T`. Cheap to clone.
pub struct Key<T: ?Sized> {
    bits: Arc<[u8]>,
    of: PhantomData<fn(&T)>,
}

impl<T: ?Sized> Key<T> {
    /// The key of a content: the value itself, or a struct that borrows its parts.
    pub(super) fn of(content: &impl Serialize) -> Self {
        let mut bits = Bits(Vec::new());
        bits.content(content);
        Key { bits: bits.0.into(), of: PhantomData }
    }

    /// Its size, bytes.
    pub fn size(&self) -> usize {
        self.bits.len()
    }
}

/// Room in which content is written down to look up its key, so that only a new key takes memory of its own.
#[derive(Default)]
pub(super) struct Scratch(Bits);

impl Scratch {
    /// Writes down a content; returns what a key of it is looked up by. What cannot be written down equals nothing.
    pub(super) fn write(&mut self, content: &impl Serialize) -> &[u8] {
        self.0.0.clear();
        self.0.content(content);
        &self.0.0
    }

    /// The key of what was written down last.
    pub(super) fn key<T: ?Sized>(&self) -> Key<T> {
        Key { bits: self.0.0.as_slice().into(), of: PhantomData }
    }
}

impl<T: ?Sized> Borrow<[u8]> for Key<T> {
    fn borrow(&self) -> &[u8] {
        &self.bits
    }
}

impl<T: ?Sized> Clone for Key<T> {
    fn clone(&self) -> Self {
        Key { bits: Arc::clone(&self.bits), of: PhantomData }
    }
}

impl<T: ?Sized> PartialEq for Key<T> {
    fn eq(&self, other: &Self) -> bool {
        self.bits == other.bits
    }
}

impl<T: ?Sized> Eq for Key<T> {}

impl<T: ?Sized> Hash for Key<T> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        // As a slice, which it is looked up by.
        self.bits[..].hash(state);
    }
}

impl<T: ?Sized> fmt::Debug for Key<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Key({} bytes)", self.bits.len())
    }
}

/// Writes values one after the other. What has a variable length or may be absent says so first.
#[derive(Default)]
struct Bits(Vec<u8>);

impl Bits {
    fn content(&mut self, content: &impl Serialize) {
        if content.serialize(&mut *self).is_err() {
            // Unlike every other key: what has no content is not remembered.
            static NEXT: AtomicU64 = AtomicU64::new(0);
            self.0.extend(NEXT.fetch_add(1, Ordering::Relaxed).to_be_bytes());
            self.0.extend([u8::MAX; 32]);
        }
    }

    /// Small numbers are short: seven bits a byte.
    fn number(&mut self, mut number: u64) {
        while number > 0x7f {
            self.0.push(number as u8 | 0x80);
            number >>= 7;
        }
        self.0.push(number as u8);
    }
}

type Done = Result<(), fmt::Error>;

macro_rules! numbers {
    ($($name:ident: $type:ty => $as:ty;)*) => {$(
        fn $name(self, value: $type) -> Done {
            self.number(value as $as as u64);
            Ok(())
        }
    )*};
}

impl<'a> ser::Serializer for &'a mut Bits {
    type Ok = ();
    type Error = fmt::Error;
    type SerializeSeq = Parts<'a>;
    type SerializeTuple = Parts<'a>;
    type SerializeTupleStruct = Parts<'a>;
    type SerializeTupleVariant = Parts<'a>;
    type SerializeMap = Parts<'a>;
    type SerializeStruct = Parts<'a>;
    type SerializeStructVariant = Parts<'a>;

    numbers! {
        serialize_bool: bool => u8;
        serialize_u8: u8 => u8;
        serialize_u16: u16 => u16;
        serialize_u32: u32 => u32;
        serialize_u64: u64 => u64;
        serialize_i8: i8 => u8;
        serialize_i16: i16 => u16;
        serialize_i32: i32 => u32;
        serialize_i64: i64 => u64;
        serialize_char: char => u32;
    }

    fn serialize_f32(self, value: f32) -> Done {
        self.0.extend(value.to_bits().to_le_bytes());
        Ok(())
    }

    fn serialize_f64(self, value: f64) -> Done {
        self.0.extend(value.to_bits().to_le_bytes());
        Ok(())
    }

    fn serialize_str(self, value: &str) -> Done {
        self.serialize_bytes(value.as_bytes())
    }

    fn serialize_bytes(self, value: &[u8]) -> Done {
        self.number(value.len() as u64);
        self.0.extend(value);
        Ok(())
    }

    fn serialize_none(self) -> Done {
        self.0.push(0);
        Ok(())
    }

    fn serialize_some<V: Serialize + ?Sized>(self, value: &V) -> Done {
        self.0.push(1);
        value.serialize(self)
    }

    fn serialize_unit(self) -> Done {
        Ok(())
    }

    fn serialize_unit_struct(self, _: &'static str) -> Done {
        Ok(())
    }

    fn serialize_unit_variant(self, _: &'static str, at: u32, _: &'static str) -> Done {
        self.serialize_u32(at)
    }

    fn serialize_newtype_struct<V: Serialize + ?Sized>(self, _: &'static str, value: &V) -> Done {
        value.serialize(self)
    }

    fn serialize_newtype_variant<V: Serialize + ?Sized>(
        self,
        _: &'static str,
        at: u32,
        _: &'static str,
        value: &V,
    ) -> Done {
        self.number(u64::from(at));
        value.serialize(self)
    }

    fn serialize_seq(self, length: Option<usize>) -> Result<Parts<'a>, fmt::Error> {
        // A list that does not know its length could end anywhere.
        self.number(length.ok_or(fmt::Error)? as u64);
        Ok(Parts(self))
    }

    fn serialize_map(self, length: Option<usize>) -> Result<Parts<'a>, fmt::Error> {
        self.serialize_seq(length)
    }

    fn serialize_tuple(self, _: usize) -> Result<Parts<'a>, fmt::Error> {
        Ok(Parts(self))
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Parts<'a>, fmt::Error> {
        Ok(Parts(self))
    }

    fn serialize_tuple_variant(
        self,
        _: &'static str,
        at: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Parts<'a>, fmt::Error> {
        self.number(u64::from(at));
        Ok(Parts(self))
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Parts<'a>, fmt::Error> {
        Ok(Parts(self))
    }

    fn serialize_struct_variant(
        self,
        _: &'static str,
        at: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Parts<'a>, fmt::Error> {
        self.number(u64::from(at));
        Ok(Parts(self))
    }
}

/// Elements of a list or fields of a struct.
struct Parts<'a>(&'a mut Bits);

macro_rules! elements {
    ($($trait:ident :: $method:ident;)*) => {$(
        impl ser::$trait for Parts<'_> {
            type Ok = ();
            type Error = fmt::Error;

            fn $method<V: Serialize + ?Sized>(&mut self, value: &V) -> Done {
                value.serialize(&mut *self.0)
            }

            fn end(self) -> Done {
                Ok(())
            }
        }
    )*};
}

elements! {
    SerializeSeq::serialize_element;
    SerializeTuple::serialize_element;
    SerializeTupleStruct::serialize_field;
    SerializeTupleVariant::serialize_field;
}

macro_rules! fields {
    ($($trait:ident;)*) => {$(
        impl ser::$trait for Parts<'_> {
            type Ok = ();
            type Error = fmt::Error;

            fn serialize_field<V: Serialize + ?Sized>(&mut self, _: &'static str, value: &V) -> Done {
                self.0.0.push(1);
                value.serialize(&mut *self.0)
            }

            fn skip_field(&mut self, _: &'static str) -> Done {
                self.0.0.push(0);
                Ok(())
            }

            fn end(self) -> Done {
                Ok(())
            }
        }
    )*};
}

fields! {
    SerializeStruct;
    SerializeStructVariant;
}

impl ser::SerializeMap for Parts<'_> {
    type Ok = ();
    type Error = fmt::Error;

    fn serialize_key<V: Serialize + ?Sized>(&mut self, key: &V) -> Done {
        key.serialize(&mut *self.0)
    }

    fn serialize_value<V: Serialize + ?Sized>(&mut self, value: &V) -> Done {
        value.serialize(&mut *self.0)
    }

    fn end(self) -> Done {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Serialize;

    #[derive(Serialize, Default, Clone)]
    struct Sample {
        #[serde(skip_serializing_if = "Option::is_none")]
        first: Option<u32>,
        #[serde(skip_serializing_if = "Option::is_none")]
        second: Option<u32>,
        list: Vec<u8>,
        number: f64,
        more: Vec<Vec<u8>>,
        kind: Kind,
    }

    #[derive(Serialize, Default, Clone)]
    enum Kind {
        #[default]
        Plain,
        With(f64),
        Named {
            #[serde(skip_serializing_if = "Option::is_none")]
            at: Option<u8>,
        },
    }

    fn key(change: impl FnOnce(&mut Sample)) -> Key<Sample> {
        let mut sample = Sample::default();
        change(&mut sample);
        Key::of(&sample)
    }

    #[test]
    fn every_field_counts_and_floats_by_their_bits() {
        let keys = [
            key(|_| ()),
            key(|s| s.first = Some(0)),
            key(|s| s.second = Some(0)),
            key(|s| s.list = vec![0]),
            key(|s| s.list = vec![0, 0]),
            key(|s| s.number = -0.0),
            key(|s| s.number = f64::NAN),
            key(|s| s.number = f64::from_bits(f64::NAN.to_bits() + 1)),
            key(|s| s.more = vec![vec![]]),
            key(|s| s.more = vec![vec![1, 2], vec![]]),
            key(|s| s.more = vec![vec![1], vec![2]]),
            key(|s| s.kind = Kind::With(0.0)),
            key(|s| s.kind = Kind::Named { at: None }),
            key(|s| s.kind = Kind::Named { at: Some(0) }),
        ];
        for (at, one) in keys.iter().enumerate() {
            for (other, two) in keys.iter().enumerate() {
                assert_eq!(one == two, at == other, "{at} and {other}");
            }
        }
        assert_eq!(key(|s| s.number = f64::NAN), key(|s| s.number = f64::NAN));
    }

    #[test]
    fn what_cannot_be_written_equals_nothing() {
        struct Broken;
        impl Serialize for Broken {
            fn serialize<S: ser::Serializer>(&self, _: S) -> Result<S::Ok, S::Error> {
                Err(ser::Error::custom("no content"))
            }
        }
        assert_ne!(Key::<Broken>::of(&Broken), Key::of(&Broken));
    }
}
