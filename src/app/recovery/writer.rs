//! The thread that writes unsaved work.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;

use super::kept::{About, keep, remove};
use crate::layout::Layout;

/// What the writer is to do. The newest order stands for those before it.
pub(super) enum Order {
    Keep(Box<Layout>, About),
    Forget,
}

/// An order's number, and whether it could be carried out.
pub(super) type Answer = (u64, Result<(), String>);

/// The thread, and the ways to and from it.
#[derive(Debug)]
pub(super) struct Writer {
    pub orders: Sender<(u64, Order)>,
    pub answers: Receiver<Answer>,
    pub thread: JoinHandle<()>,
}

pub(super) fn carry_out(file: &Path, order: &Order) -> Result<(), String> {
    match order {
        Order::Keep(layout, about) => keep(file, layout, about).map_err(|error| error.to_string()),
        Order::Forget => {
            remove(file);
            Ok(())
        }
    }
}

impl Writer {
    pub(super) fn begin(file: PathBuf) -> Option<Self> {
        let (orders, inbox) = channel::<(u64, Order)>();
        let (outbox, answers) = channel();
        let work = move || {
            while let Ok(mut order) = inbox.recv() {
                while let Ok(newer) = inbox.try_recv() {
                    order = newer;
                }
                // Nobody listens when the window is gone; the work is kept all the same.
                let _ = outbox.send((order.0, carry_out(&file, &order.1)));
            }
        };
        let thread = std::thread::Builder::new().name("recovery".into()).spawn(work).ok()?;
        Some(Self { orders, answers, thread })
    }
}
