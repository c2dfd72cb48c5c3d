//! How many threads work.

use rayon::{ThreadPool, ThreadPoolBuilder};

use crate::error::{Error, Result};

/// This many threads; `None`: one for each core.
///
/// # Errors
/// [`Error::Argument`] for no threads, or more than the system gives.
pub fn pool(threads: Option<usize>) -> Result<ThreadPool> {
    let advice = "leave it out for one thread for each core";
    if threads == Some(0) {
        return Err(Error::argument("threads", 0, "1 or more", advice));
    }
    let asked = threads.map_or_else(|| "one for each core".to_owned(), |threads| threads.to_string());
    let refused = |e| Error::argument("threads", asked, "as many as the system gives", format!("{advice} ({e})"));
    ThreadPoolBuilder::new().num_threads(threads.unwrap_or(0)).build().map_err(refused)
}

/// Runs on this many threads; `None`: on those there are.
///
/// # Errors
/// As `pool`: [`Error::Argument`] for no threads, or more than the system gives.
pub fn on_threads<T: Send>(threads: Option<usize>, run: impl FnOnce() -> T + Send) -> Result<T> {
    if threads.is_none() {
        return Ok(run());
    }
    Ok(pool(threads)?.install(run))
}
