//! What records and priors together say of the coordinates: residuals with their Jacobian, and the expected
//! information.

use ndarray::{Array1, Array2, ArrayView1};
use rayon::prelude::*;

use super::least_squares::{condense, condense_values};
use super::records::Records;
use crate::error::Result;

/// Residuals of one record, and their derivatives by the prior standard deviations of the axes that it depends on.
type Block = (Array1<f64>, Array2<f64>);

/// The residuals of all records and of the priors, a unit normal each, below one another: residuals and their Jacobian
/// by the positions `z`. Blocks are made in parallel and put together in order: the same bits on any number of threads.
pub fn stacked(records: &impl Records, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
    let coordinates = records.coordinates();
    let (values, derivatives) = (coordinates.values(z), coordinates.derivatives(z));
    let block = |i: usize| block(records, i, &values, &derivatives);
    let blocks: Vec<Result<Block>> = (0..records.count()).into_par_iter().map(block).collect();
    let blocks: Vec<Block> = blocks.into_iter().collect::<Result<_>>()?;
    let n = coordinates.len();
    let rows = blocks.iter().map(|(residuals, _)| residuals.len()).sum::<usize>() + n;
    let (mut residuals, mut by_sd) = (Array1::zeros(rows), Array2::zeros((rows, n)));
    let mut row = 0;
    for (record, (values, slopes)) in blocks.iter().enumerate() {
        let axes = coordinates.of_record(record);
        for (value, slopes) in values.iter().zip(slopes.rows()) {
            residuals[row] = *value;
            axes.iter().zip(slopes).for_each(|(&j, slope)| by_sd[[row, j]] = *slope);
            row += 1;
        }
    }
    let mut jacobian = by_sd.dot(&coordinates.whitening);
    for j in 0..n {
        residuals[row + j] = z[j];
        jacobian[[row + j, j]] = 1.0;
    }
    Ok((residuals, jacobian))
}

/// The residuals of one record and their derivatives by the prior standard deviations of its axes, condensed.
fn block(records: &impl Records, record: usize, values: &[f64], derivatives: &[f64]) -> Result<Block> {
    let (misfits, mut slopes) = records.slopes(record, values, derivatives)?;
    let mut residuals = Array1::zeros(misfits.len());
    for (k, (law, misfit)) in records.laws(record).iter().zip(misfits).enumerate() {
        let (residual, steep) = law.residual(misfit);
        residuals[k] = residual;
        slopes.row_mut(k).mapv_inplace(|slope| slope * steep);
    }
    Ok(condense(residuals.view(), slopes.view()))
}

/// The expected (Fisher) information of records and priors about the positions at `z`. Priors of what makes a record
/// differ count less by `own`, the variance of these differences over that of a unit normal.
pub fn information(records: &impl Records, z: ArrayView1<f64>, own: f64) -> Result<Array2<f64>> {
    let coordinates = records.coordinates();
    let (values, derivatives) = (coordinates.values(z), coordinates.derivatives(z));
    let one = |i: usize| -> Result<Array2<f64>> {
        let (misfits, mut slopes) = records.slopes(i, &values, &derivatives)?;
        for (k, (law, misfit)) in records.laws(i).iter().zip(misfits).enumerate() {
            let weight = law.weight(misfit);
            slopes.row_mut(k).mapv_inplace(|slope| slope * weight);
        }
        Ok(slopes.t().dot(&slopes))
    };
    let of_records: Vec<Result<Array2<f64>>> = (0..records.count()).into_par_iter().map(one).collect();
    let n = coordinates.len();
    let mut by_sd = Array2::<f64>::zeros((n, n));
    for (i, of_record) in of_records.into_iter().enumerate() {
        let axes = coordinates.of_record(i);
        for ((a, b), x) in of_record?.indexed_iter() {
            by_sd[[axes[a], axes[b]]] += x;
        }
    }
    let mut all = coordinates.whitening.t().dot(&by_sd).dot(&coordinates.whitening);
    (0..n).for_each(|j| all[[j, j]] += if coordinates.axes[j].record.is_some() { 1.0 / own } else { 1.0 });
    Ok(all)
}

/// As [`stacked`], without derivatives.
pub fn stacked_values(records: &impl Records, z: ArrayView1<f64>) -> Result<Array1<f64>> {
    let coordinates = records.coordinates();
    let values = coordinates.values(z);
    let block = |i: usize| {
        let laws = records.laws(i);
        let misfits = records.misfits(i, &values)?;
        let residuals: Array1<f64> = laws.iter().zip(misfits).map(|(law, misfit)| law.residual(misfit).0).collect();
        Ok(condense_values(residuals.view(), coordinates.of_record(i).len()))
    };
    let blocks: Vec<Result<Array1<f64>>> = (0..records.count()).into_par_iter().map(block).collect();
    let mut residuals = Vec::new();
    for block in blocks {
        residuals.extend(block?);
    }
    residuals.extend(z);
    Ok(Array1::from(residuals))
}
