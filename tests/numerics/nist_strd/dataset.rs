//! Reads the files as NIST wrote them.

use std::path::Path;

pub const NAMES: [&str; 27] = [
    "Misra1a", "Chwirut2", "Chwirut1", "Lanczos3", "Gauss1", "Gauss2", "DanWood", "Misra1b", "Kirby2", "Hahn1",
    "Nelson", "MGH17", "Lanczos1", "Lanczos2", "Gauss3", "Misra1c", "Misra1d", "Roszman1", "ENSO", "MGH09", "Thurber",
    "BoxBOD", "Rat42", "MGH10", "Eckerle4", "Rat43", "Bennett5",
];

/// One file: response first in each row, then the predictors.
pub struct Dataset {
    pub rows: Vec<Vec<f64>>,
    pub starts: [Vec<f64>; 2],
    pub values: Vec<f64>,
    pub standard_deviations: Vec<f64>,
    pub residual_sum_of_squares: f64,
}

pub fn read(name: &str) -> Dataset {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/certified/nist").join(format!("{name}.dat"));
    let text = std::fs::read_to_string(&path).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let column = |k: usize| lines.iter().filter_map(|line| parameter_row(line)).map(|row| row[k]).collect();
    let first =
        text.lines().find(|line| line.contains("Data ") && line.contains("(lines")).map(first_data_line).unwrap();
    let rss = lines.iter().find(|line| line.starts_with("Residual Sum of Squares")).unwrap();
    let mut rows: Vec<Vec<f64>> = lines[first - 1..].iter().map(|l| numbers(l)).filter(|r| !r.is_empty()).collect();
    if name == "Nelson" {
        // The model is for the logarithm of the response.
        rows.iter_mut().for_each(|row| row[0] = row[0].ln());
    }
    Dataset {
        rows,
        starts: [column(0), column(1)],
        values: column(2),
        standard_deviations: column(3),
        residual_sum_of_squares: rss.split_whitespace().last().unwrap().parse().unwrap(),
    }
}

/// The line number in `Data (lines 61 to 214)`.
fn first_data_line(line: &str) -> usize {
    line.split("(lines").nth(1).unwrap().split_whitespace().next().unwrap().parse().unwrap()
}

/// Two starts, value and standard deviation in `  b1 = ...`.
fn parameter_row(line: &str) -> Option<Vec<f64>> {
    let (name, rest) = line.split_once('=')?;
    let row = numbers(rest);
    (name.trim().starts_with('b') && row.len() == 4).then_some(row)
}

fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace().map_while(|word| word.parse().ok()).collect()
}
