//! A run of the solver by the executor of the `argmin` framework, which counts iterations and ends them.

use argmin::core::{Error as FrameError, Executor, IterState, KV, Problem, Solver};
use argmin::core::{State, TerminationReason, TerminationStatus};
use ndarray::Array1;

use super::ending::Ending;
use super::model::Model;
use super::problem::Residuals;
use super::solver::LevenbergMarquardt;
use crate::error::{Error, Result};

/// What the framework keeps of a run: parameters, and half the sum of squares as the cost.
type RunState = IterState<Array1<f64>, (), (), (), (), f64>;

/// The solver and the model at the point where it stands.
struct Running<'a, P: ?Sized> {
    solver: LevenbergMarquardt<'a, P>,
    model: Option<Model>,
}

impl<P: Residuals + ?Sized> Running<'_, P> {
    /// The state with the point where the run stands.
    fn shown(&self, state: RunState) -> RunState {
        match &self.model {
            Some(Model { point, .. }) => state.param(point.p.clone()).cost(0.5 * point.rss()),
            None => state,
        }
    }
}

impl<P: Residuals + ?Sized> Solver<(), RunState> for Running<'_, P> {
    fn name(&self) -> &str {
        "Levenberg-Marquardt within bounds"
    }

    fn init(&mut self, _: &mut Problem<()>, mut state: RunState) -> Result<(RunState, Option<KV>), FrameError> {
        let start = state.take_param().unwrap_or_default();
        self.model = Some(self.solver.begin(start)?);
        Ok((self.shown(state), None))
    }

    fn next_iter(&mut self, _: &mut Problem<()>, state: RunState) -> Result<(RunState, Option<KV>), FrameError> {
        let Some(model) = self.model.take() else { return Ok((state, None)) };
        let (next, taken) = self.solver.iterate(model)?;
        self.model = Some(next);
        Ok((if taken { self.shown(state) } else { state }, None))
    }

    fn terminate(&mut self, _: &RunState) -> TerminationStatus {
        match self.solver.ended() {
            Some(Ending::Canceled) => TerminationStatus::Terminated(TerminationReason::Interrupt),
            Some(Ending::Converged) => TerminationStatus::Terminated(TerminationReason::SolverConverged),
            Some(other) => TerminationStatus::Terminated(TerminationReason::SolverExit(other.to_string())),
            None => TerminationStatus::NotTerminated,
        }
    }
}

/// Runs a solver from `start` to an ending: the model there, and the solver with its counts.
pub(super) fn execute<P: Residuals + ?Sized>(
    solver: LevenbergMarquardt<'_, P>,
    start: Array1<f64>,
) -> Result<(Model, Ending, LevenbergMarquardt<'_, P>)> {
    let limit = solver.max_iterations();
    let executor = Executor::new((), Running { solver, model: None })
        .configure(|state: RunState| state.param(start).max_iters(limit));
    let end = executor.run().map_err(own_error)?;
    let Running { solver, model } = end.solver;
    let canceled =
        matches!(end.state.get_termination_status(), TerminationStatus::Terminated(TerminationReason::Interrupt));
    let otherwise = if canceled { Ending::Canceled } else { Ending::IterationLimit };
    let ending = solver.ended().unwrap_or(otherwise);
    let model = model.ok_or_else(|| own_error(FrameError::msg("the solver lost its point")))?;
    Ok((model, ending, solver))
}

/// Our error out of the framework's.
fn own_error(error: FrameError) -> Error {
    let foreign = |e: FrameError| Error::Fit { reason: e.to_string(), advice: "start elsewhere".into() };
    error.downcast::<Error>().unwrap_or_else(foreign)
}
