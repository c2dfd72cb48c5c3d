//! Residuals of many records, put together: each record's block depends on the shared axes and its own, and beliefs follow.

use ndarray::{Array1, Array2, ArrayView1};
use rayon::prelude::*;

use super::posterior::Records;
use crate::error::Result;
use crate::inference::least_squares::{condense, condense_values};

/// Residuals of one record, and their derivatives by the spreads of the axes that it depends on.
type Block = (Array1<f64>, Array2<f64>);

/// The blocks of all records and the beliefs, a unit normal each, below one another: residuals and their Jacobian by the
/// positions `z`. Blocks are made in parallel and put together in order: the same bits on any number of threads.
pub(crate) fn stacked(records: &impl Records, z: ArrayView1<f64>) -> Result<(Array1<f64>, Array2<f64>)> {
    let space = records.space();
    let (values, rates) = (space.values(z), space.rates(z));
    let block = |i: usize| block(records, i, &values, &rates);
    let blocks: Vec<Result<Block>> = (0..records.count()).into_par_iter().map(block).collect();
    let blocks: Vec<Block> = blocks.into_iter().collect::<Result<_>>()?;
    let n = space.len();
    let rows = blocks.iter().map(|(residuals, _)| residuals.len()).sum::<usize>() + n;
    let (mut residuals, mut by_spread) = (Array1::zeros(rows), Array2::zeros((rows, n)));
    let mut row = 0;
    for (record, (values, slopes)) in blocks.iter().enumerate() {
        let axes = space.of_record(record);
        for (value, slopes) in values.iter().zip(slopes.rows()) {
            residuals[row] = *value;
            axes.iter().zip(slopes).for_each(|(&j, slope)| by_spread[[row, j]] = *slope);
            row += 1;
        }
    }
    let mut jacobian = by_spread.dot(&space.mixing);
    for j in 0..n {
        residuals[row + j] = z[j];
        jacobian[[row + j, j]] = 1.0;
    }
    Ok((residuals, jacobian))
}

/// The residuals of one record and their derivatives by the spreads of its axes, condensed.
fn block(records: &impl Records, record: usize, values: &[f64], rates: &[f64]) -> Result<Block> {
    let (misfits, mut slopes) = records.slopes(record, values, rates)?;
    let mut residuals = Array1::zeros(misfits.len());
    for (k, (law, misfit)) in records.laws(record).iter().zip(misfits).enumerate() {
        let (residual, steep) = law.residual(misfit);
        residuals[k] = residual;
        slopes.row_mut(k).mapv_inplace(|slope| slope * steep);
    }
    Ok(condense(residuals.view(), slopes.view()))
}

/// What records and beliefs tell of the positions at `z` on average over readings: the expected information. Beliefs in what makes
/// a record differ tell less by `own`, the variance of these differences over that of a unit normal.
pub(crate) fn information(records: &impl Records, z: ArrayView1<f64>, own: f64) -> Result<Array2<f64>> {
    let space = records.space();
    let (values, rates) = (space.values(z), space.rates(z));
    let one = |i: usize| -> Result<Array2<f64>> {
        let (misfits, mut slopes) = records.slopes(i, &values, &rates)?;
        for (k, (law, misfit)) in records.laws(i).iter().zip(misfits).enumerate() {
            let telling = law.telling(misfit);
            slopes.row_mut(k).mapv_inplace(|slope| slope * telling);
        }
        Ok(slopes.t().dot(&slopes))
    };
    let told: Vec<Result<Array2<f64>>> = (0..records.count()).into_par_iter().map(one).collect();
    let n = space.len();
    let mut by_spread = Array2::<f64>::zeros((n, n));
    for (i, told) in told.into_iter().enumerate() {
        let axes = space.of_record(i);
        for ((a, b), x) in told?.indexed_iter() {
            by_spread[[axes[a], axes[b]]] += x;
        }
    }
    let mut all = space.mixing.t().dot(&by_spread).dot(&space.mixing);
    (0..n).for_each(|j| all[[j, j]] += if space.axes[j].record.is_some() { 1.0 / own } else { 1.0 });
    Ok(all)
}

/// As [`stacked`], without derivatives.
pub(crate) fn stacked_values(records: &impl Records, z: ArrayView1<f64>) -> Result<Array1<f64>> {
    let space = records.space();
    let values = space.values(z);
    let block = |i: usize| {
        let laws = records.laws(i);
        let misfits = records.misfits(i, &values)?;
        let residuals: Array1<f64> = laws.iter().zip(misfits).map(|(law, misfit)| law.residual(misfit).0).collect();
        Ok(condense_values(residuals.view(), space.of_record(i).len()))
    };
    let blocks: Vec<Result<Array1<f64>>> = (0..records.count()).into_par_iter().map(block).collect();
    let mut residuals = Vec::new();
    for block in blocks {
        residuals.extend(block?);
    }
    residuals.extend(z);
    Ok(Array1::from(residuals))
}
