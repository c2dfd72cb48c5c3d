//! Steps of chains against joint draws of truth and records (Geweke, J. Am. Stat. Assoc. 99, 799, 2004): a truth drawn
//! from the priors, records drawn from it, and steps given these records leave truths distributed as their priors.

use chacha20::ChaCha8Rng;
use ndarray::{Array1, Array2, ArrayView1, array};

use crate::error::Result;
use crate::inference::coordinates::{Axis, Coordinates};
use crate::inference::likelihood::{Law, Shape};
use crate::inference::posterior::surrogate::Surrogate;
use crate::inference::posterior::target::Target;
use crate::inference::prior::Prior;
use crate::inference::records::Records;
use crate::inference::scatter::Scatters;
use crate::numerics::random::{stream, unit_normals};

const RECORDS: usize = 3;
const LAWS: [Law; 2] = [Law { shape: Shape::Heavy, scatters: true }, Law::of(Shape::Normal)];

/// Records that read the gas of their lot and, bent, their charge, each in a mixture.
struct Bent {
    coordinates: Coordinates<&'static str>,
    read: [[f64; 2]; RECORDS],
}

fn coordinates() -> Coordinates<&'static str> {
    let axis = |(parameter, prior), record| Axis { parameter, record, prior };
    let shared = [("gas", Prior::lognormal(0.5, 0.7, 0.03, 3.0)), ("kept", Prior::lognormal(1.0, 0.04, 0.7, 1.5))];
    let shared = shared.map(|p| axis(p, None));
    let own = |i| {
        let own = [
            ("gas factor", Prior::lognormal(1.0, 0.015, 0.8, 1.25)),
            ("charge", Prior::normal(0.0, 0.5e-3, -5e-3, 5e-3)),
        ];
        own.map(|p| axis(p, Some(i)))
    };
    let mut coordinates = Coordinates::new(shared.into_iter().chain((0..RECORDS).flat_map(own)).collect());
    coordinates.correlate(&array![0.3, -0.2], &array![[0.01, 0.006], [0.006, 0.02]]);
    coordinates
}

impl Bent {
    fn says(&self, record: usize, values: &[f64]) -> [f64; 2] {
        let at = self.coordinates.of_record(record);
        let gas = (values[at[0]] * values[at[2]]).ln() / 0.015;
        let (kept, charge) = (values[at[1]].ln() / 0.02, values[at[3]] / 0.5e-3);
        [gas + kept + (1.5 * charge).sin(), charge - 0.3 * kept + 0.2 * charge * charge]
    }
}

impl Records for Bent {
    type Parameter = &'static str;

    fn coordinates(&self) -> &Coordinates<&'static str> {
        &self.coordinates
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

    fn products(&self) -> Vec<(&'static str, &'static str)> {
        vec![("gas", "gas factor")]
    }

    fn slopes(&self, _record: usize, _values: &[f64], _derivatives: &[f64]) -> Result<(Vec<f64>, Array2<f64>)> {
        unreachable!("steps ask for no slopes")
    }
}

/// What is read where the truth is `x`.
fn read(x: ArrayView1<f64>, scatters: Scatters, generator: &mut ChaCha8Rng) -> Bent {
    let mut records = Bent { coordinates: coordinates(), read: [[0.0; 2]; RECORDS] };
    let target = Target::new(&records, scatters);
    let place = target.chain.place(x);
    let values = target.chain.values(&place);
    let mut all = [[0.0; 2]; RECORDS];
    for (i, read) in all.iter_mut().enumerate() {
        let z = unit_normals(generator, 6);
        let heavy = z[0] / (z[1..5].iter().map(|z| z * z).sum::<f64>() / 4.0).sqrt();
        let said = records.says(i, &values);
        *read = [said[0] - place.reading_scatter * heavy, said[1] - z[5]];
    }
    records.read = all;
    records
}

/// A surrogate that is off: it learned from misfits that are too small.
fn misled(target: &Target<Bent>, generator: &mut ChaCha8Rng) -> Vec<Surrogate> {
    const EXAMPLES: usize = 40;
    let n = target.chain.len();
    let seen: Vec<_> = (0..EXAMPLES)
        .map(|_| target.see(Array1::from(unit_normals(generator, n)).view()).expect("no simulation fails"))
        .collect();
    let of = |i: usize| {
        let axes = &target.axes[i];
        let inputs = Array2::from_shape_fn((EXAMPLES, axes.len()), |(e, a)| seen[e].sds[axes[a]]);
        let misfits = Array2::from_shape_fn((EXAMPLES, 2), |(e, k)| 0.8 * seen[e].misfits[i][k] + 0.3);
        Surrogate::of_examples(inputs.view(), misfits.view(), &LAWS)
    };
    (0..RECORDS).map(of).collect()
}

/// A truth, and where steps lead from it.
fn stepped(generator: &mut ChaCha8Rng) -> Array1<f64> {
    let factor = Prior::lognormal(1.0, 0.3, 0.1, 10.0);
    let scatters = Scatters { readings: Some(factor), records: Some(factor) };
    let mut x = Array1::from(unit_normals(generator, 2 + 2 * RECORDS + 2));
    let records = read(x.view(), scatters, generator);
    let mut target = Target::new(&records, scatters);
    assert_eq!(target.directions.len(), 1, "gas");
    target.surrogates = misled(&target, generator);
    let mut seen = target.see(x.view()).expect("no simulation fails");
    for _ in 0..6 {
        target.interweave_free(&mut x, &mut seen, generator);
        target.interweave_own(&mut x, &mut seen, generator).expect("no simulation fails");
        let again = target.see(x.view()).expect("no simulation fails");
        assert!((again.value - seen.value).abs() < 1e-8 * again.value.abs().max(1.0));
    }
    x
}

#[test]
fn steps_leave_the_posterior_invariant() {
    const TRUTHS: usize = 10_000;
    let mut generator = stream(5, 0);
    let all: Vec<Array1<f64>> = (0..TRUTHS).map(|_| stepped(&mut generator)).collect();
    let mean = |of: &dyn Fn(&Array1<f64>) -> f64| all.iter().map(of).sum::<f64>() / TRUTHS as f64;
    // Standard errors of a mean, a product and a square of unit normals; four of them are exceeded once in 16 000
    // times.
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
