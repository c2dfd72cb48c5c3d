//! Directions in which only the product of a shared parameter and each record's factor on it is simulated: no
//! likelihood changes.

use ndarray::Array1;

use crate::inference::records::Records;
use crate::numerics::triangular::solve_lower;

/// A direction along which a shared parameter changes and every record's factor on it makes up for that.
pub struct Direction {
    /// Change of the shared coordinates; shape (axes,), zero elsewhere.
    pub shared: Array1<f64>,
    /// Coordinates of the factors, and by how many prior standard deviations they change.
    pub factors: Vec<(usize, f64)>,
}

/// The directions of records: shared parameters whose factor every record has.
pub fn directions<R: Records>(records: &R) -> Vec<Direction> {
    let coordinates = records.coordinates();
    let of = |(constant, factor): (R::Parameter, R::Parameter)| {
        let at = coordinates.axes.iter().position(|a| a.parameter == constant && a.record.is_none())?;
        let own = (0..coordinates.len())
            .filter(|&j| coordinates.axes[j].parameter == factor && coordinates.axes[j].record.is_some());
        let own: Vec<usize> = own.collect();
        let log = own.iter().chain([&at]).all(|&j| coordinates.axes[j].prior.log);
        (log && own.len() == records.count()).then(|| {
            let mut unit = Array1::zeros(coordinates.len());
            unit[at] = 1.0;
            let change = |j: usize| -coordinates.axes[at].prior.sd / coordinates.axes[j].prior.sd;
            Direction {
                shared: solve_lower(coordinates.whitening.view(), unit.view()),
                factors: own.into_iter().map(|j| (j, change(j))).collect(),
            }
        })
    };
    records.products().into_iter().filter_map(of).collect()
}
