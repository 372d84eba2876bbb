//! A formatter of JSON that writes no character that a terminal obeys.

use std::io::{self, Write};

use serde_json::ser::{CharEscape, Formatter};

use crate::layout::shown_json;

/// Another formatter, with hidden characters in strings written as escapes.
pub struct Escaped<F>(pub F);

macro_rules! handed_on {
    ($($name:ident($($argument:ident: $type:ty),*);)*) => {$(
        fn $name<W: ?Sized + Write>(&mut self, writer: &mut W $(, $argument: $type)*) -> io::Result<()> {
            self.0.$name(writer $(, $argument)*)
        }
    )*};
}

impl<F: Formatter> Formatter for Escaped<F> {
    fn write_string_fragment<W: ?Sized + Write>(
        &mut self,
        writer: &mut W,
        fragment: &str,
    ) -> io::Result<()> {
        self.0.write_string_fragment(writer, &shown_json(fragment))
    }

    handed_on! {
        write_char_escape(escape: CharEscape);
        begin_array();
        end_array();
        begin_array_value(first: bool);
        end_array_value();
        begin_object();
        end_object();
        begin_object_key(first: bool);
        end_object_key();
        begin_object_value();
        end_object_value();
    }
}
