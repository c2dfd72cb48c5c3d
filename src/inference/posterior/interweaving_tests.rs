//! Steps of chains against joint draws of truth and records (Geweke, J. Am. Stat. Assoc. 99, 799, 2004): a truth drawn from the
//! beliefs, records drawn from it, and steps given these records leave truths distributed as believed.

use chacha20::ChaCha8Rng;
use ndarray::{Array1, Array2, ArrayView1, array};

use crate::error::Result;
use crate::fit::parameter::Parameter;
use crate::inference::coordinates::{Axis, Space};
use crate::inference::likelihood::{Law, Shape};
use crate::inference::posterior::chain_coordinates::Scatters;
use crate::inference::posterior::surrogate::Guide;
use crate::inference::posterior::target::{Records, Target};
use crate::numerics::random::{stream, unit_normals};

const RECORDS: usize = 3;
const LAWS: [Law; 2] = [Law { shape: Shape::Heavy, scatters: true }, Law::of(Shape::Normal)];

/// Records that read the gas of their lot and, bent, their charge, each in a mixture.
struct Bent {
    space: Space,
    read: [[f64; 2]; RECORDS],
}

fn space() -> Space {
    let axis = |parameter: Parameter, record| Axis { parameter, record, belief: parameter.belief() };
    let shared = [Parameter::GasYield, Parameter::GasRetention].map(|p| axis(p, None));
    let own = |i| [Parameter::GasFactor, Parameter::ChargeError].map(|p| axis(p, Some(i)));
    let mut space = Space::new(shared.into_iter().chain((0..RECORDS).flat_map(own)).collect());
    space.correlate(&array![0.3, -0.2], &array![[0.01, 0.006], [0.006, 0.02]]);
    space
}

impl Bent {
    fn says(&self, record: usize, values: &[f64]) -> [f64; 2] {
        let at = self.space.of_record(record);
        let gas = (values[at[0]] * values[at[2]]).ln() / 0.015;
        let (kept, charge) = (values[at[1]].ln() / 0.02, values[at[3]] / 0.5e-3);
        [gas + kept + (1.5 * charge).sin(), charge - 0.3 * kept + 0.2 * charge * charge]
    }
}

impl Records for Bent {
    fn space(&self) -> &Space {
        &self.space
    }

    fn count(&self) -> usize {
        RECORDS
    }

    fn laws(&self, _record: usize) -> Vec<Law> {
        LAWS.to_vec()
    }

    fn misfits(&self, record: usize, values: &[f64]) -> Result<Vec<f64>> {
        Ok((0..2).map(|k| self.says(record, values)[k] - self.read[record][k]).collect())
    }

    fn slopes(&self, _record: usize, _values: &[f64], _rates: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
        unreachable!("steps ask for no slopes")
    }
}

/// What is read where the truth is `x`.
fn read(x: ArrayView1<f64>, scatters: Scatters, generator: &mut ChaCha8Rng) -> Bent {
    let mut records = Bent { space: space(), read: [[0.0; 2]; RECORDS] };
    let target = Target::new(&records, scatters);
    let place = target.coordinates.place(x);
    let values = target.coordinates.values(&place);
    let mut all = [[0.0; 2]; RECORDS];
    for (i, read) in all.iter_mut().enumerate() {
        let z = unit_normals(generator, 6);
        let heavy = z[0] / (z[1..5].iter().map(|z| z * z).sum::<f64>() / 4.0).sqrt();
        let said = records.says(i, &values);
        *read = [said[0] - place.casting * heavy, said[1] - z[5]];
    }
    records.read = all;
    records
}

/// A guide that is off: it learned from misfits that are too small.
fn misled(target: &Target<Bent>, generator: &mut ChaCha8Rng) -> Vec<Guide> {
    const EXAMPLES: usize = 40;
    let n = target.coordinates.len();
    let seen: Vec<_> = (0..EXAMPLES)
        .map(|_| target.see(Array1::from(unit_normals(generator, n)).view()).expect("no simulation fails"))
        .collect();
    let of = |i: usize| {
        let axes = &target.axes[i];
        let inputs = Array2::from_shape_fn((EXAMPLES, axes.len()), |(e, a)| seen[e].spreads[axes[a]]);
        let misfits = Array2::from_shape_fn((EXAMPLES, 2), |(e, k)| 0.8 * seen[e].misfits[i][k] + 0.3);
        Guide::of_examples(inputs.view(), misfits.view(), &LAWS)
    };
    (0..RECORDS).map(of).collect()
}

/// A truth, and where steps lead from it.
fn stirred(generator: &mut ChaCha8Rng) -> Array1<f64> {
    let scatters =
        Scatters { casting: Some(Parameter::CastingScatter.belief()), lot: Some(Parameter::LotScatter.belief()) };
    let mut x = Array1::from(unit_normals(generator, 2 + 2 * RECORDS + 2));
    let records = read(x.view(), scatters, generator);
    let mut target = Target::new(&records, scatters);
    assert_eq!(target.levels.len(), 1, "gas");
    target.guides = misled(&target, generator);
    let mut seen = target.see(x.view()).expect("no simulation fails");
    for _ in 0..6 {
        target.stir_free(&mut x, &mut seen, generator);
        target.stir_own(&mut x, &mut seen, generator).expect("no simulation fails");
        let again = target.see(x.view()).expect("no simulation fails");
        assert!((again.value - seen.value).abs() < 1e-8 * again.value.abs().max(1.0));
    }
    x
}

#[test]
fn steps_leave_truths_as_believed() {
    const TRUTHS: usize = 10_000;
    let mut generator = stream(5, 0);
    let all: Vec<Array1<f64>> = (0..TRUTHS).map(|_| stirred(&mut generator)).collect();
    let mean = |of: &dyn Fn(&Array1<f64>) -> f64| all.iter().map(of).sum::<f64>() / TRUTHS as f64;
    // Standard errors of a mean, a product and a square of unit normals; four of them are exceeded once in 16 000 times.
    let error = 4.0 / (TRUTHS as f64).sqrt();
    let mut wrong = Vec::new();
    for i in 0..all[0].len() {
        let mut say = |what: String, found: f64, error: f64| {
            if found.abs() > error {
                wrong.push(format!("{what}: {found:.3} where {error:.3} would be rare"));
            }
        };
        say(format!("mean of {i}"), mean(&|x| x[i]), error);
        say(format!("square of {i}"), mean(&|x| x[i] * x[i]) - 1.0, error * 2.0_f64.sqrt());
        (0..i).for_each(|j| say(format!("product of {i} and {j}"), mean(&|x| x[i] * x[j]), error));
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}
