//! What goes back to Python: read-only arrays, columns of a frame.

use numpy::PyArray1;
use pyo3::exceptions::PyImportError;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// A read-only NumPy array of float64, shape (n,). Results do not change once given out.
pub fn array(py: Python<'_>, values: Vec<f64>) -> PyResult<Bound<'_, PyArray1<f64>>> {
    let array = PyArray1::from_vec(py, values);
    array.call_method1("setflags", (false,))?;
    Ok(array)
}

/// A read-only NumPy array of float64, shape (k, k), from its rows one after another.
pub fn matrix(py: Python<'_>, values: Vec<f64>, k: usize) -> PyResult<Bound<'_, PyAny>> {
    let matrix = PyArray1::from_vec(py, values).call_method1("reshape", ((k, k),))?;
    matrix.call_method1("setflags", (false,))?;
    Ok(matrix)
}

/// A read-only NumPy array of float64 with three axes, from its values in the order of their indices.
pub fn cube(py: Python<'_>, values: Vec<f64>, shape: (usize, usize, usize)) -> PyResult<Bound<'_, PyAny>> {
    let cube = PyArray1::from_vec(py, values).call_method1("reshape", (shape,))?;
    cube.call_method1("setflags", (false,))?;
    Ok(cube)
}

/// A `pandas.DataFrame` with these columns, in this order. pandas is imported only here.
pub fn frame<'py>(py: Python<'py>, columns: Vec<(String, Vec<f64>)>) -> PyResult<Bound<'py, PyAny>> {
    let pandas = py.import("pandas").map_err(|_| {
        PyImportError::new_err("frames need pandas, which cannot be imported; run: pip install 'risefit[frames]'")
    })?;
    let data = PyDict::new(py);
    for (name, values) in columns {
        data.set_item(name, PyArray1::from_vec(py, values))?;
    }
    pandas.call_method1("DataFrame", (data,))
}

/// As [`frame`], with a named index of texts.
pub fn frame_of_rows<'py>(
    py: Python<'py>,
    index: &str,
    names: Vec<String>,
    columns: Vec<(String, Vec<f64>)>,
) -> PyResult<Bound<'py, PyAny>> {
    let frame = frame(py, columns)?;
    frame.setattr("index", names)?;
    frame.call_method1("rename_axis", (index,))
}
