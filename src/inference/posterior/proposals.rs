//! How chains move: proposals along the surrogate's slopes, interweaving steps after each.

use chacha20::ChaCha8Rng;
use ndarray::{Array1, ArrayView1};

use super::target::{Evaluation, Target};
use crate::error::Result;
use crate::inference::records::Records;
use crate::numerics::surrogate_chains::WithSurrogate;

impl<R: Records> WithSurrogate for Target<'_, R> {
    type Seen = Evaluation;

    fn density(&self, x: ArrayView1<f64>) -> Result<(f64, Evaluation)> {
        let seen = self.see(x)?;
        Ok((seen.value, seen))
    }

    fn surrogate(&self, x: ArrayView1<f64>) -> (f64, Array1<f64>) {
        let place = self.chain.place(x);
        let found = self.gathered(x, &place, |i| {
            let inputs: Vec<f64> = self.axes[i].iter().map(|&j| place.sds[j]).collect();
            Ok(self.surrogates[i].cost(&inputs, place.reading_scatter))
        });
        // Polynomials do not fail.
        found.unwrap_or_else(|_| (f64::NAN, Array1::zeros(x.len())))
    }

    fn interweave(&self, x: &mut Array1<f64>, seen: &mut Evaluation, generator: &mut ChaCha8Rng) -> Option<f64> {
        self.interweave_free(x, seen, generator);
        Some(seen.value)
    }

    fn interweave_parts(
        &self,
        x: &mut Array1<f64>,
        seen: &mut Evaluation,
        generator: &mut ChaCha8Rng,
    ) -> Result<Option<f64>> {
        self.interweave_own(x, seen, generator)?;
        Ok(Some(seen.value))
    }
}
