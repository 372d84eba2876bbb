//! The sample layouts that the program carries.

/// A sample.
#[derive(Debug, Clone, Copy)]
pub struct Sample {
    /// Its name.
    pub name: &'static str,
    /// What there is to learn from it, in one sentence.
    pub learn: &'static str,
    /// The file.
    pub text: &'static str,
}

/// All of them.
pub const SAMPLES: &[Sample] = &[];
