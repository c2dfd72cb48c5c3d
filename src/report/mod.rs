//! What a customer reads: numbers, tables, charts, pages and summaries, the same in terminal, notebook and file.

mod display;
mod html;
mod number;
mod table;

mod chart;
mod describe;
mod page;
mod summary;

mod fits;

mod decisions;

pub use chart::{
    BelievedKnown, Compared, Deviating, MapSlice, ModelCurve, PredictedWeighed, ProfileCurve, Sheet, belief_chart,
    casting_chart, chance_chart, deviation_chart, profile_curve_chart, rise_curve_chart, rise_log_chart, sweep_chart,
    weighed_chart,
};
pub use decisions::{
    chance_table, describe_next_trial, describe_next_trial_text, describe_recommendation, describe_recommendation_text,
    proposal_words,
};
pub use describe::{cautions, describe_run, run_sentence, run_table};
pub use display::{DisplayUnits, Shown};
pub use fits::{
    calibration_chart, describe_calibration, describe_calibration_text, describe_diagnosis, describe_diagnosis_text,
    describe_free_rise, describe_free_rise_text, describe_posterior, describe_posterior_text, describe_prediction,
    describe_prediction_text, describe_profile, describe_profile_text, diagnosis_chart, main_job_charts, main_job_page,
    main_job_summary, main_job_text, posterior_chart, prediction_chart, profile_chart, write_main_job,
};
pub use number::{fixed, percent, significant, with_error};
pub use page::{KeyNumber, Page, Section, sections_text};
pub use summary::{Entry, Summary, SummaryValue, summarize_run};
pub use table::{Align, Table};
