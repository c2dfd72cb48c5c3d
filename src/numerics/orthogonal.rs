//! Orthogonal factors of small dense matrices: pivoted Householder QR, then singular values by one-sided Jacobi.

use ndarray::{Array1, Array2, ArrayView1, ArrayView2, Axis};

/// The Jacobian and the residuals, turned by one orthogonal matrix so that n rows hold all that n parameters can
/// change.
#[derive(Clone, Debug)]
pub struct Triangle {
    /// Turned Jacobian, min(m, n) rows, columns in the order of the parameters.
    pub r: Array2<f64>,
    /// Turned residuals, as many rows.
    pub q: Array1<f64>,
    /// Length of what is left of the residuals.
    pub rest: f64,
    /// Smallest pivot, about the smallest singular value; zero with fewer rows than parameters.
    pub weakest: f64,
}

/// Householder QR with column pivoting: the turned columns, the right side last, and whose column stands where.
fn factor(matrix: ArrayView2<f64>, right: ArrayView1<f64>) -> (Vec<Vec<f64>>, Vec<usize>) {
    let (m, n) = matrix.dim();
    let mut columns: Vec<Vec<f64>> = matrix.columns().into_iter().map(|c| c.to_vec()).collect();
    columns.push(right.to_vec());
    let mut order: Vec<usize> = (0..n).collect();
    for k in 0..m.min(n) {
        let longest = longest_from(&columns[..n], k);
        columns.swap(k, longest);
        order.swap(k, longest);
        reflect(&mut columns, k);
    }
    (columns, order)
}

/// The x that brings `matrix` x closest to `right`; `None` where a pivot is below `weakest`.
pub fn closest(matrix: ArrayView2<f64>, right: ArrayView1<f64>, weakest: f64) -> Option<Array1<f64>> {
    let (m, n) = matrix.dim();
    let (columns, order) = factor(matrix, right);
    if m < n || (0..n).any(|k| columns[k][k].abs() <= weakest) {
        return None;
    }
    let mut x = Array1::zeros(n);
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| columns[j][k] * x[order[j]]).sum();
        x[order[k]] = (columns[n][k] - known) / columns[k][k];
    }
    Some(x)
}

/// Householder QR with column pivoting of `jacobian`, with `residuals` carried along.
pub fn triangle(jacobian: ArrayView2<f64>, residuals: ArrayView1<f64>) -> Triangle {
    let (m, n) = jacobian.dim();
    let rows = m.min(n);
    let (columns, order) = factor(jacobian, residuals);
    let pivots = columns[..rows].iter().enumerate().map(|(k, column)| column[k].abs());
    let weakest = if rows < n { 0.0 } else { pivots.fold(f64::INFINITY, f64::min) };
    let mut r = Array2::zeros((rows, n));
    for (column, &j) in columns.iter().zip(&order) {
        r.column_mut(j).iter_mut().zip(column).for_each(|(to, from)| *to = *from);
    }
    let (q, rest) = columns[n].split_at(rows);
    Triangle { r, q: Array1::from_iter(q.iter().copied()), rest: norm(ArrayView1::from(rest)), weakest }
}

/// The column that is longest from row `k` on, among those from `k` on.
fn longest_from(columns: &[Vec<f64>], k: usize) -> usize {
    let tail = |j: usize| {
        let rest = ArrayView1::from(&columns[j][k..]);
        rest.dot(&rest)
    };
    (k..columns.len()).map(|j| (j, tail(j))).fold((k, -1.0), |best, next| if next.1 > best.1 { next } else { best }).0
}

/// Applies the reflection that clears column `k` below its diagonal.
fn reflect(columns: &mut [Vec<f64>], k: usize) {
    let length = norm(ArrayView1::from(&columns[k][k..]));
    if length == 0.0 {
        return;
    }
    let mut mirror: Vec<f64> = columns[k][k..].iter().map(|x| x / length).collect();
    let sign = if mirror[0] < 0.0 { -1.0 } else { 1.0 };
    mirror[0] += sign;
    let lead = mirror[0].abs();
    let along = ArrayView1::from(&mirror);
    for column in &mut columns[k + 1..] {
        let share = along.dot(&ArrayView1::from(&column[k..])) / lead;
        column[k..].iter_mut().zip(&mirror).for_each(|(x, a)| *x -= share * a);
    }
    columns[k][k..].fill(0.0);
    columns[k][k] = -sign * length;
}

/// Euclidean norm that neither overflows nor underflows.
pub fn norm(v: ArrayView1<f64>) -> f64 {
    let largest = v.fold(0.0_f64, |a, x| a.max(x.abs()));
    if largest == 0.0 || !largest.is_finite() {
        return largest;
    }
    largest * v.fold(0.0, |a, x| a + (x / largest) * (x / largest)).sqrt()
}

/// Singular value decomposition of a matrix with at least as many rows as columns; not sorted.
#[derive(Clone, Debug)]
pub struct Svd {
    /// Left vectors in rows (zero where the singular value is).
    pub u: Array2<f64>,
    /// Singular values.
    pub values: Array1<f64>,
    /// Right vectors in rows.
    pub v: Array2<f64>,
}

impl Svd {
    /// Decomposes `a` by turning pairs of columns until all are orthogonal.
    pub fn of(a: ArrayView2<f64>) -> Self {
        const SWEEPS: usize = 60;
        let n = a.ncols();
        let mut u = a.t().as_standard_layout().into_owned();
        let mut v = Array2::eye(n);
        for _ in 0..SWEEPS {
            let mut turned = false;
            for i in 0..n {
                for j in i + 1..n {
                    if let Some((c, s)) = rotation(u.row(i), u.row(j)) {
                        rotate(&mut u, i, j, c, s);
                        rotate(&mut v, i, j, c, s);
                        turned = true;
                    }
                }
            }
            if !turned {
                break;
            }
        }
        let values = Array1::from_iter(u.rows().into_iter().map(norm));
        for (mut row, &value) in u.rows_mut().into_iter().zip(&values) {
            if value > 0.0 {
                row /= value;
            }
        }
        Svd { u, values, v }
    }

    /// Which singular values stand out from zero by more than `tolerance` of the largest.
    pub fn kept(&self, tolerance: f64) -> Vec<bool> {
        let floor = tolerance * self.values.fold(0.0_f64, |a, &b| a.max(b));
        self.values.iter().map(|&value| value > floor && value > 0.0).collect()
    }
}

/// Cosine and sine of the turn that makes two columns orthogonal; none when they are already.
fn rotation(a: ArrayView1<f64>, b: ArrayView1<f64>) -> Option<(f64, f64)> {
    let (aa, bb, ab) = (a.dot(&a), b.dot(&b), a.dot(&b));
    if ab.abs() <= 1e-15 * (aa * bb).sqrt() || ab == 0.0 {
        return None;
    }
    let zeta = (bb - aa) / (2.0 * ab);
    let t = zeta.signum() / (zeta.abs() + zeta.hypot(1.0));
    let c = 1.0 / t.hypot(1.0);
    Some((c, c * t))
}

fn rotate(rows: &mut Array2<f64>, i: usize, j: usize, c: f64, s: f64) {
    let (mut upper, mut lower) = rows.view_mut().split_at(Axis(0), j);
    ndarray::Zip::from(upper.row_mut(i)).and(lower.row_mut(0)).for_each(|a, b| {
        (*a, *b) = (c * *a - s * *b, s * *a + c * *b);
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    #[test]
    fn the_triangle_keeps_all_inner_products() {
        let j = array![[1.0, 2.0, 1e6], [3.0, -1.0, 2e6], [0.5, 0.25, -1e6], [2.0, 2.0, 0.0]];
        let r = array![1.0, -2.0, 3.0, -4.0];
        let turned = triangle(j.view(), r.view());
        let (want, got) = (j.t().dot(&j), turned.r.t().dot(&turned.r));
        let (want_g, got_g) = (j.t().dot(&r), turned.r.t().dot(&turned.q));
        for i in 0..3 {
            assert!((want_g[i] - got_g[i]).abs() <= 1e-14 * norm(j.column(i)) * norm(r.view()));
            for k in 0..3 {
                assert!((want[[i, k]] - got[[i, k]]).abs() <= 1e-14 * norm(j.column(i)) * norm(j.column(k)));
            }
        }
    }

    #[test]
    fn singular_values_of_a_known_matrix() {
        // [[3, 0], [4, 5]] has singular values sqrt(45) and sqrt(5): its Gram matrix has trace 50, determinant 225.
        let svd = Svd::of(array![[3.0, 0.0], [4.0, 5.0]].view());
        let mut values = svd.values.to_vec();
        values.sort_by(f64::total_cmp);
        assert!((values[0] - 5_f64.sqrt()).abs() < 1e-14 && (values[1] - 45_f64.sqrt()).abs() < 1e-14);
        let back = svd.u.t().dot(&Array2::from_diag(&svd.values)).dot(&svd.v);
        assert!((back - array![[3.0, 0.0], [4.0, 5.0]]).iter().all(|e| e.abs() < 1e-14));
    }

    #[test]
    fn equal_columns_leave_one_value_at_zero() {
        let svd = Svd::of(array![[1.0, 1.0], [2.0, 2.0], [3.0, 3.0]].view());
        assert_eq!(svd.kept(1e-12).iter().filter(|&&k| k).count(), 1);
    }
}
