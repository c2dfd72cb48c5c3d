//! Lower triangular square roots of symmetric matrices, and solving with them.

use ndarray::{Array1, Array2, ArrayView1, ArrayView2};

/// Lower Cholesky factor. Rounding may leave a covariance a hair short of definite; what is below that is taken as
/// zero.
pub fn cholesky(a: ArrayView2<f64>) -> Array2<f64> {
    let n = a.nrows();
    let mut l = Array2::<f64>::zeros((n, n));
    for j in 0..n {
        let known = l.row(j).to_owned();
        let rest = a[[j, j]] - known.dot(&known);
        let pivot = rest.max(1e-14 * a[[j, j]].abs()).sqrt();
        l[[j, j]] = pivot;
        for i in j + 1..n {
            let dot = l.row(i).dot(&known);
            l[[i, j]] = if pivot > 0.0 { (a[[i, j]] - dot) / pivot } else { 0.0 };
        }
    }
    l
}

/// The solution x of L x = b.
pub fn solve_lower(l: ArrayView2<f64>, b: ArrayView1<f64>) -> Array1<f64> {
    let mut x = b.to_owned();
    for i in 0..x.len() {
        let known: f64 = (0..i).map(|k| l[[i, k]] * x[k]).sum();
        x[i] = (x[i] - known) / l[[i, i]];
    }
    x
}

/// A' v, row by row: a product with the transpose would cross the memory.
pub fn transposed_dot(a: ArrayView2<f64>, v: ArrayView1<f64>) -> Array1<f64> {
    let mut sum = Array1::zeros(a.ncols());
    a.rows().into_iter().zip(v).for_each(|(row, x)| sum.scaled_add(*x, &row));
    sum
}

/// The inverse of L, lower triangular as well.
pub fn inverse_lower(l: ArrayView2<f64>) -> Array2<f64> {
    let n = l.nrows();
    let mut inverse = Array2::<f64>::zeros((n, n));
    for j in 0..n {
        for i in j..n {
            let known: f64 = (j..i).map(|k| l[[i, k]] * inverse[[k, j]]).sum();
            inverse[[i, j]] = (f64::from(i == j) - known) / l[[i, i]];
        }
    }
    inverse
}

/// The solutions X of L L' X = B, one per column of B.
pub fn solve_normal(l: ArrayView2<f64>, b: ArrayView2<f64>) -> Array2<f64> {
    let n = l.nrows();
    let mut x = b.to_owned();
    for i in 0..n {
        let mut row = x.row(i).to_owned();
        (0..i).for_each(|k| row.scaled_add(-l[[i, k]], &x.row(k)));
        x.row_mut(i).assign(&(row / l[[i, i]]));
    }
    for i in (0..n).rev() {
        let mut row = x.row(i).to_owned();
        (i + 1..n).for_each(|k| row.scaled_add(-l[[k, i]], &x.row(k)));
        x.row_mut(i).assign(&(row / l[[i, i]]));
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    fn close(a: &Array2<f64>, b: &Array2<f64>) {
        assert!((a - b).iter().all(|d| d.abs() < 1e-13), "{a} {b}");
    }

    #[test]
    fn factors_and_solutions_give_the_matrix_back() {
        let a = array![[4.0, 1.2, -0.4], [1.2, 2.0, 0.3], [-0.4, 0.3, 1.0]];
        let l = cholesky(a.view());
        close(&l.dot(&l.t()), &a);
        close(&inverse_lower(l.view()).dot(&l), &Array2::eye(3));
        let b = array![[1.0, 2.0], [3.0, -4.0], [0.5, 6.0]];
        close(&a.dot(&solve_normal(l.view(), b.view())), &b);
        let turned = transposed_dot(b.view(), l.column(0));
        assert!((turned - b.t().dot(&l.column(0))).iter().all(|d| d.abs() < 1e-13));
        let x = solve_lower(l.view(), b.column(0));
        close(&l.dot(&x).insert_axis(ndarray::Axis(1)), &b.column(0).to_owned().insert_axis(ndarray::Axis(1)));
    }
}
