//! Reports of fits: a grade's cup tests, a mold's castings, the next casting, and the page of the whole job.

mod advice;
mod cause_words;
mod parameters;
mod words;

mod calibration;
mod diagnosis;
mod free_rise;
mod posterior;
mod prediction;
mod profile;

mod job;
mod job_files;
mod job_summary;
mod job_text;
mod trust;

pub use calibration::{calibration_chart, describe_calibration, describe_calibration_text};
pub use diagnosis::{describe_diagnosis, describe_diagnosis_text, diagnosis_chart};
pub use free_rise::{describe_free_rise, describe_free_rise_text};
pub use job::{main_job_charts, main_job_page};
pub use job_files::write_main_job;
pub use job_summary::main_job_summary;
pub use job_text::main_job_text;
pub use posterior::{describe_posterior, describe_posterior_text, posterior_chart};
pub use prediction::{describe_prediction, describe_prediction_text, prediction_chart};
pub use profile::{describe_profile, describe_profile_text, profile_chart};
