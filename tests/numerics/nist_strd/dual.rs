//! Numbers that carry their derivatives by up to nine parameters.

use std::ops::{Add, Div, Mul, Neg, Sub};

#[derive(Clone, Copy)]
pub struct Dual {
    pub value: f64,
    pub slopes: [f64; 9],
}

impl Dual {
    pub fn variable(value: f64, place: usize) -> Self {
        let mut slopes = [0.0; 9];
        slopes[place] = 1.0;
        Dual { value, slopes }
    }

    fn chain(self, value: f64, slope: f64) -> Self {
        Dual { value, slopes: self.slopes.map(|d| slope * d) }
    }

    pub fn exp(self) -> Self {
        self.chain(self.value.exp(), self.value.exp())
    }

    pub fn ln(self) -> Self {
        self.chain(self.value.ln(), 1.0 / self.value)
    }

    pub fn sin(self) -> Self {
        self.chain(self.value.sin(), self.value.cos())
    }

    pub fn cos(self) -> Self {
        self.chain(self.value.cos(), -self.value.sin())
    }

    pub fn atan(self) -> Self {
        self.chain(self.value.atan(), 1.0 / (1.0 + self.value * self.value))
    }

    pub fn powf(self, exponent: f64) -> Self {
        self.chain(self.value.powf(exponent), exponent * self.value.powf(exponent - 1.0))
    }
}

fn pair(a: Dual, b: Dual, value: f64, by_a: f64, by_b: f64) -> Dual {
    Dual { value, slopes: std::array::from_fn(|k| by_a * a.slopes[k] + by_b * b.slopes[k]) }
}

impl Add for Dual {
    type Output = Dual;
    fn add(self, o: Dual) -> Dual {
        pair(self, o, self.value + o.value, 1.0, 1.0)
    }
}

impl Sub for Dual {
    type Output = Dual;
    fn sub(self, o: Dual) -> Dual {
        pair(self, o, self.value - o.value, 1.0, -1.0)
    }
}

impl Mul for Dual {
    type Output = Dual;
    fn mul(self, o: Dual) -> Dual {
        pair(self, o, self.value * o.value, o.value, self.value)
    }
}

impl Div for Dual {
    type Output = Dual;
    fn div(self, o: Dual) -> Dual {
        let value = self.value / o.value;
        pair(self, o, value, 1.0 / o.value, -value / o.value)
    }
}

impl Neg for Dual {
    type Output = Dual;
    fn neg(self) -> Dual {
        self.chain(-self.value, -1.0)
    }
}

impl Add<f64> for Dual {
    type Output = Dual;
    fn add(self, o: f64) -> Dual {
        self.chain(self.value + o, 1.0)
    }
}

impl Mul<f64> for Dual {
    type Output = Dual;
    fn mul(self, o: f64) -> Dual {
        self.chain(self.value * o, o)
    }
}
