//! Residuals of many records, put together: each record's block depends on the shared axes and its own, and beliefs follow.

use ndarray::{Array1, Array2, ArrayView1};
use rayon::prelude::*;

use super::space::Space;
use crate::error::Result;

/// Residuals of one record, and their derivatives by the spreads of the axes that it depends on.
pub(super) type Block = (Array1<f64>, Array2<f64>);

/// The blocks of this many records and the beliefs, a unit normal each, below one another: residuals and their Jacobian by the
/// positions `z`. Blocks are made in parallel and put together in order: the same bits on any number of threads.
pub(super) fn stacked(
    space: &Space,
    z: ArrayView1<f64>,
    records: usize,
    block: impl Fn(usize) -> Result<Block> + Sync,
) -> Result<(Array1<f64>, Array2<f64>)> {
    let blocks: Vec<Result<Block>> = (0..records).into_par_iter().map(&block).collect();
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

/// As [`stacked`], without derivatives.
pub(super) fn stacked_values(
    z: ArrayView1<f64>,
    records: usize,
    block: impl Fn(usize) -> Result<Array1<f64>> + Sync,
) -> Result<Array1<f64>> {
    let blocks: Vec<Result<Array1<f64>>> = (0..records).into_par_iter().map(&block).collect();
    let mut residuals = Vec::new();
    for block in blocks {
        residuals.extend(block?);
    }
    residuals.extend(z);
    Ok(Array1::from(residuals))
}
