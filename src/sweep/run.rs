//! Running a sweep: its points in parallel, block after block in order, until done or stopped.

use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use rayon::ThreadPool;
use rayon::prelude::*;

use super::block::{Block, Judgment, Row};
use super::grid::{Densities, Sweep};
use crate::error::{Error, Result};
use crate::numerics::threads::pool;

/// Points that a thread takes at a time: some milliseconds' work.
const SHARE: usize = 64;

/// A hand on a running sweep: stops it from another thread, and says how far it is.
#[derive(Clone, Debug, Default)]
pub struct Control {
    stopped: Arc<AtomicBool>,
    done: Arc<AtomicUsize>,
}

impl Control {
    /// Stops the sweep after the points now being cast.
    pub fn stop(&self) {
        self.stopped.store(true, Ordering::Relaxed);
    }

    /// Whether it was stopped.
    pub fn is_stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }

    /// Points finished so far, within a share of them for each thread.
    pub fn done(&self) -> usize {
        self.done.load(Ordering::Relaxed)
    }
}

/// Threads that run sweeps.
pub struct Runner {
    pool: ThreadPool,
    control: Control,
}

impl Runner {
    /// Threads that run sweeps: this many, or one for each core. The numbers do not depend on it.
    ///
    /// # Errors
    /// [`Error::Argument`] for no threads, or more than the system gives.
    pub fn new(threads: Option<usize>, control: Control) -> Result<Self> {
        Ok(Runner { pool: pool(threads)?, control })
    }

    /// Casts the points of `range`. Points that were not reached when it was stopped say so.
    ///
    /// # Errors
    /// [`Error::Argument`] where the range does not lie within the sweep.
    pub fn block(&self, sweep: &Sweep, range: Range<usize>) -> Result<Block> {
        if range.start > range.end || range.end > sweep.points() {
            let expected = format!("a range within 0..{}", sweep.points());
            return Err(Error::argument("points", format!("{range:?}"), expected, "points are counted from 0"));
        }
        let mut rows = vec![Row::empty(Judgment::NotRun); range.len()];
        let share = |(number, rows): (usize, &mut [Row])| self.share(sweep, range.start + number * SHARE, rows);
        self.pool.install(|| rows.par_chunks_mut(SHARE).enumerate().for_each(share));
        Ok(Block { start: range.start, rows })
    }

    /// Casts neighboring points on one thread.
    fn share(&self, sweep: &Sweep, start: usize, rows: &mut [Row]) {
        let mut densities = Densities::default();
        for (i, row) in rows.iter_mut().enumerate() {
            if self.control.is_stopped() {
                return;
            }
            *row = sweep.row(start + i, &mut densities);
        }
        self.control.done.fetch_add(rows.len(), Ordering::Relaxed);
    }

    /// All points in order, `size` at a time; one block is kept at a time. Ends after the block in which it was stopped.
    ///
    /// # Errors
    /// [`Error::Argument`] for blocks of no points.
    pub fn blocks<'a>(&'a self, sweep: &'a Sweep, size: usize) -> Result<impl Iterator<Item = Block> + 'a> {
        if size == 0 {
            return Err(Error::argument("size", 0, "1 or more points", "some thousands suit most uses"));
        }
        let starts = (0..sweep.points()).step_by(size).take_while(|_| !self.control.is_stopped());
        Ok(starts.map_while(move |start| self.block(sweep, start..sweep.points().min(start + size)).ok()))
    }
}
