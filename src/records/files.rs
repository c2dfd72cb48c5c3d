//! Files by name or by pattern.

use std::path::{Path, PathBuf};

use crate::error::{Error, Result};

/// The file itself, or the files that a pattern with `*`, `?` or `[..]` matches, sorted by name.
pub(super) fn matching_files(pattern: &Path) -> Result<Vec<PathBuf>> {
    let text = pattern.to_string_lossy();
    if pattern.exists() || !text.contains(['*', '?', '[']) {
        return Ok(vec![pattern.to_path_buf()]);
    }
    let unreadable = |reason: String| Error::Unreadable { file: pattern.to_path_buf(), reason };
    let paths = glob::glob(&text).map_err(|e| unreadable(format!("not a pattern: {e}")))?;
    let mut files = paths.collect::<Result<Vec<_>, _>>().map_err(|e| unreadable(e.to_string()))?;
    files.sort();
    if files.is_empty() {
        return Err(unreadable("no file matches; check the folder and the ending".to_owned()));
    }
    Ok(files)
}
