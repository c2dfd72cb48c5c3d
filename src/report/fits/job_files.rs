//! The files of a whole job in one folder: the page, every chart, the summary.

use std::fs;
use std::path::{Path, PathBuf};

use super::job::{main_job_charts, main_job_page};
use super::job_summary::main_job_summary;
use crate::error::{Error, Result};
use crate::fit::{Calibration, FreeRiseFit, Prediction};
use crate::model::Casting;
use crate::report::display::DisplayUnits;
use crate::report::page::write_file;

/// Writes `report.html`, `summary.json` and every chart as `.svg` into a folder, which is made if it is not there, and
/// gives the paths in this order. Files of these names are replaced, others left alone.
///
/// # Errors
/// [`Error::Argument`] if the folder cannot be made or a file not be written.
pub fn write_main_job(
    fit: &FreeRiseFit,
    calibration: &Calibration,
    predictions: &[(Casting, Prediction)],
    folder: impl AsRef<Path>,
    units: DisplayUnits,
) -> Result<Vec<PathBuf>> {
    let folder = folder.as_ref();
    fs::create_dir_all(folder).map_err(|e| {
        let expected = "a folder that is there or can be made";
        Error::argument("folder", folder.display(), expected, format!("the system says: {e}"))
    })?;
    let (page, summary) = (folder.join("report.html"), folder.join("summary.json"));
    main_job_page(fit, calibration, predictions, units).write(&page)?;
    main_job_summary(fit, calibration, predictions, units).write(&summary)?;
    let mut paths = vec![page, summary];
    for (name, svg) in main_job_charts(fit, calibration, predictions, units) {
        let path = folder.join(name);
        write_file(&path, &svg)?;
        paths.push(path);
    }
    Ok(paths)
}
