"""Types of the compiled part. Physics, units and sources are documented in the Rust crate.

Numbers are attributes whose names end in their unit. The customary names are listed here; every other unit of the same
quantity works as well (`run.peak_pressure_psi`, `trial.charge_oz`), by `__getattr__`. Arrays have shape (n,), dtype
float64, and are read-only. Pressures of a casting are gauge, ambient pressures absolute.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from os import PathLike
from pathlib import Path
from typing import Any, Literal, final, overload

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

__version__: str

_Array = NDArray[np.float64]
_Path = str | PathLike[str]
_Units = Literal["metric", "us"]
_Setting = float | Sequence[float] | _Array | None
_Asked = _Setting | Sequence[float | str]
_Axis = _Setting | tuple[float, float, int]
_Progress = Callable[[int, int], object] | bool | None
_Priors = Mapping[str, tuple[float, float]]
_CurveKind = Literal["richards", "delayed_first_order"]
_Verdict = Literal["full", "short", "flash", "soft"]

def read_rise_logs(files: _Path | Iterable[_Path]) -> list[RiseLog]: ...
def read_trials(file: _Path) -> list[Trial]: ...
def priors() -> dict[str, tuple[float, float]]: ...
def simulate(
    grade: Grade, mold: Mold, casting: Casting | None = None, /, *, accuracy: float = 1e-6, **settings: _Setting
) -> Run: ...
@overload
def sweep(
    grade: Grade,
    mold: Mold,
    casting: Casting | None = None,
    /,
    *,
    accuracy: float | None = None,
    threads: int | None = None,
    progress: _Progress = None,
    **settings: _Axis,
) -> SweepResult: ...
@overload
def sweep(
    calibration: Calibration,
    casting: Casting | None = None,
    /,
    *,
    accuracy: float | None = None,
    threads: int | None = None,
    progress: _Progress = None,
    **settings: _Axis,
) -> SweepResult: ...
@overload
def sweep(
    draws: Sequence[tuple[Grade, Mold]],
    casting: Casting | None = None,
    /,
    *,
    accuracy: float | None = None,
    threads: int | None = None,
    progress: _Progress = None,
    **settings: _Axis,
) -> SweepResult: ...
def free_rise(
    grade: Grade, *, times_s: ArrayLike | None = None, accuracy: float = 1e-6, **settings: float | None
) -> FreeRise: ...
def fit_free_rise(
    logs: RiseLog | Iterable[RiseLog],
    start: Grade | GradeKnowledge | None = None,
    *,
    name: str | None = None,
    starts: int = 4,
    held: Mapping[str, float] | None = None,
    priors: _Priors | None = None,
    model_error: float = 1.0,
    threads: int | None = None,
) -> FreeRiseFit: ...
def calibrate(
    grade: FreeRiseFit | GradeKnowledge | Grade,
    mold: Mold,
    trials: Trial | Iterable[Trial],
    *,
    starts: int = 4,
    held: Mapping[str, float] | None = None,
    priors: _Priors | None = None,
    threads: int | None = None,
) -> Calibration: ...
def grade_from_datasheet(
    datasheet: Datasheet,
    *,
    starts: int = 4,
    held: Mapping[str, float] | None = None,
    priors: _Priors | None = None,
    threads: int | None = None,
) -> GradeKnowledge: ...
def recommend(
    grade: FreeRiseFit | GradeKnowledge | Grade,
    mold: Mold,
    casting: Casting | None = None,
    /,
    *,
    draws: int = 400,
    seed: int = 1,
    held: Mapping[str, float] | None = None,
    priors: _Priors | None = None,
    **asked: _Asked,
) -> Recommendation: ...
def outcomes_before_castings(
    grade: FreeRiseFit | GradeKnowledge | Grade,
    mold: Mold,
    casting: Casting | None = None,
    /,
    *,
    draws: int = 1000,
    seed: int = 1,
    held: Mapping[str, float] | None = None,
    priors: _Priors | None = None,
    **settings: _Setting,
) -> Outcomes: ...
def quick_curve(log: RiseLog, kind: _CurveKind = "richards") -> QuickCurve: ...
def short_report(
    fit: FreeRiseFit, calibration: Calibration, predictions: Prediction | Iterable[Prediction], units: _Units = "metric"
) -> str: ...
def write_report(
    fit: FreeRiseFit,
    calibration: Calibration,
    predictions: Prediction | Iterable[Prediction],
    folder: _Path,
    units: _Units = "metric",
) -> list[Path]: ...

@final
class Casting:
    charge_g: float
    vent_mm: _Array | None
    mix_temp_C: float
    mold_temp_C: float
    left_in_cup_g: float
    ambient_pressure_kPa: float
    closing_time_s: float
    demold_time_s: float
    clamp_force_N: float | None
    leak_mm: float | None
    leak_length_mm: float | None
    leak_time_s: float | None
    leak_pressure_kPa: float | None
    def __init__(self, **settings: _Setting) -> None: ...
    def replace(self, **changes: _Setting) -> Casting: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class Grade:
    name: str
    note: str
    constants: dict[str, float]
    liquid_density_kg_m3: float
    heat_capacity_J_kgK: float
    induction_s: float
    gas_yield_mol_kg: float
    blow_rate_per_s: float
    blow_activation_kJ_mol: float
    gel_rate_per_s: float
    gel_activation_kJ_mol: float
    competition: float
    blow_heat_K: float
    gel_heat_K: float
    solubility_kg_kgbar: float
    air_fraction: float
    gel_conversion: float
    rise_end_conversion: float
    viscosity_Pa_s: float
    viscosity_activation_kJ_mol: float
    viscosity_a: float
    viscosity_b: float
    settling: float
    cell_opening_time_s: float
    def __init__(self, name: str, **constants: float | str) -> None: ...
    @staticmethod
    def load(path: _Path) -> Grade: ...
    def save(self, path: _Path) -> None: ...
    @staticmethod
    def from_toml(text: str) -> Grade: ...
    def to_toml(self) -> str: ...
    def replace(self, **changes: float | str) -> Grade: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class Datasheet:
    name: str
    note: str
    file: str | None
    mix_ratio: str | None
    recipe: Recipe | None
    assumed: list[str]
    free_rise_density_kg_m3: float | None
    gas_yield_mol_kg: float | None
    cream_time_s: float | None
    string_gel_time_s: float | None
    end_of_rise_s: float | None
    tack_free_time_s: float | None
    demold_time_s: float | None
    at_temp_C: float
    liquid_density_kg_m3: float | None
    @staticmethod
    def load(path: _Path) -> Datasheet: ...
    @staticmethod
    def from_toml(text: str) -> Datasheet: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class Recipe:
    polyols: list[tuple[float, float]]
    water: float
    inert: float
    isocyanate_equivalent: float
    index: float
    isocyanate: float
    gas_yield_mol_kg: float
    def __init__(
        self,
        *,
        polyols: Sequence[tuple[float, float]],
        water: float,
        isocyanate_equivalent: float,
        index: float,
        inert: float = 0.0,
    ) -> None: ...
    @staticmethod
    def load(path: _Path) -> Recipe: ...
    @staticmethod
    def from_toml(text: str) -> Recipe: ...
    def gas_yield_prior(self) -> tuple[float, float]: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class GradeKnowledge:
    grade: Grade
    in_doubt: list[str]

@final
class Mold:
    name: str
    note: str
    vents: list[dict[str, float]]
    volume_mL: float
    projected_area_cm2: float
    wall_area_cm2: float
    heat_transfer_W_m2K: float
    stretch_per_bar: float
    gas_retention: float
    rate_factor: float
    discharge: float
    parting_length_mm: float
    parting_land_mm: float
    parting_gap_mm: float
    parting_opening_um_per_kN: float
    parting_at_fill: float
    clamp_force_N: float | None
    @staticmethod
    def load(path: _Path) -> Mold: ...
    def save(self, path: _Path) -> None: ...
    @staticmethod
    def from_toml(text: str) -> Mold: ...
    def to_toml(self) -> str: ...
    def replace(self, **changes: float | str | Sequence[float] | None) -> Mold: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class RiseLog:
    name: str
    file: str | None
    assumed: list[str]
    mass_g: float
    mix_temp_C: float
    ambient_temp_C: float
    ambient_pressure_kPa: float
    cup_bottom_diameter_mm: float | None
    cup_top_diameter_mm: float | None
    cup_height_mm: float | None
    cream_time_s: float | None
    string_gel_time_s: float | None
    end_of_rise_s: float | None
    tack_free_time_s: float | None
    free_rise_density_kg_m3: float | None
    time_s: _Array
    height_mm: _Array | None
    volume_mL: _Array | None
    temp_C: _Array | None
    def to_frame(self) -> pd.DataFrame: ...
    def chart(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> Chart: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class Trial:
    name: str
    file: str | None
    line: int | None
    casting: Casting
    outcome: Literal["short", "full", "flash"] | None
    gauge_at_stop: bool
    remarks: str
    assumed: list[str]
    part_mass_g: float | None
    vent_loss_g: float | None
    flash_g: float | None
    peak_pressure_kPa: float | None
    core_temp_C: float | None
    ambient_temp_C: float | None
    charge_g: float
    vent_mm: _Array | None
    mix_temp_C: float
    mold_temp_C: float
    left_in_cup_g: float
    ambient_pressure_kPa: float
    closing_time_s: float
    demold_time_s: float
    clamp_force_N: float | None
    leak_mm: float | None
    leak_length_mm: float | None
    leak_time_s: float | None
    leak_pressure_kPa: float | None
    trace_time_s: _Array | None
    trace_pressure_kPa: _Array | None
    trace_temp_C: _Array | None
    def trace_frame(self) -> pd.DataFrame: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class Run:
    verdict: _Verdict
    phases: list[tuple[str, float]]
    peak_pressure_kPa: float
    peak_time_s: float
    pressure_at_gel_kPa: float | None
    rise_start_s: float | None
    fill_time_s: float | None
    gel_time_s: float | None
    margin_s: float | None
    clamp_opened_s: float | None
    leak_opened_s: float | None
    clamp_needed_N: float
    part_mass_g: float
    vent_loss_g: float
    flash_g: float
    fill_fraction: float
    density_kg_m3: float
    free_rise_density_kg_m3: float
    packing_factor: float
    peak_core_temp_C: float
    time_s: _Array
    pressure_kPa: _Array
    fill: _Array
    temp_C: _Array
    core_temp_C: _Array
    blown: _Array
    gelled: _Array
    mass_in_cavity_g: _Array
    vent_loss_so_far_g: _Array
    flash_so_far_g: _Array
    viscosity_Pa_s: _Array
    def to_frame(self) -> pd.DataFrame: ...
    def summary(self) -> dict[str, Any]: ...
    def chart(
        self,
        title: str | None = None,
        *,
        trial: Trial | None = None,
        width: int = 900,
        height: int = 600,
        units: _Units = "metric",
    ) -> Chart: ...
    def report(self, units: _Units = "metric") -> str: ...
    def _repr_html_(self) -> str: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class Sweep:
    shape: tuple[int, ...]
    axes: dict[str, _Array]
    @overload
    def __init__(
        self,
        grade: Grade,
        mold: Mold,
        casting: Casting | None = None,
        /,
        *,
        accuracy: float | None = None,
        **settings: _Axis,
    ) -> None: ...
    @overload
    def __init__(
        self,
        calibration: Calibration,
        casting: Casting | None = None,
        /,
        *,
        accuracy: float | None = None,
        **settings: _Axis,
    ) -> None: ...
    @overload
    def __init__(
        self,
        draws: Sequence[tuple[Grade, Mold]],
        casting: Casting | None = None,
        /,
        *,
        accuracy: float | None = None,
        **settings: _Axis,
    ) -> None: ...
    def __len__(self) -> int: ...
    def run(self, *, threads: int | None = None, progress: _Progress = None) -> SweepResult: ...
    def block(self, start: int, stop: int, *, threads: int | None = None) -> SweepResult: ...
    def blocks(self, size: int = 10_000, *, threads: int | None = None) -> SweepBlocks: ...
    def join(self, blocks: Sequence[SweepResult]) -> SweepResult: ...
    def casting(self, index: int | Sequence[int]) -> Casting: ...
    def simulate(self, index: int | Sequence[int]) -> Run: ...
    def reason(self, index: int | Sequence[int]) -> str | None: ...

@final
class SweepBlocks(Iterator[SweepResult]):
    def __next__(self) -> SweepResult: ...

@final
class SweepResult:
    sweep: Sweep
    axes: dict[str, _Array]
    shape: tuple[int, ...]
    start: int
    stop: int
    complete: bool
    verdict: NDArray[np.str_]
    peak_pressure_kPa: _Array
    peak_time_s: _Array
    pressure_at_gel_kPa: _Array
    rise_start_s: _Array
    fill_time_s: _Array
    gel_time_s: _Array
    margin_s: _Array
    clamp_opened_s: _Array
    leak_opened_s: _Array
    clamp_needed_N: _Array
    part_mass_g: _Array
    vent_loss_g: _Array
    flash_g: _Array
    fill_fraction: _Array
    density_kg_m3: _Array
    free_rise_density_kg_m3: _Array
    packing_factor: _Array
    peak_core_temp_C: _Array
    def __len__(self) -> int: ...
    def chart(
        self,
        quantity: str = "peak_pressure",
        *,
        x: str | None = None,
        y: str | None = None,
        at: Sequence[int] | None = None,
        title: str | None = None,
        width: int = 900,
        height: int = 600,
        units: _Units = "metric",
    ) -> Chart: ...
    def to_frame(self) -> pd.DataFrame: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class FreeRise:
    cream_time_s: float | None
    string_gel_time_s: float | None
    end_of_rise_s: float | None
    tack_free_time_s: float | None
    density_kg_m3: float
    peak_temp_C: float
    time_s: _Array
    volume_mL: _Array
    height_mm: _Array | None
    temp_C: _Array
    sensed_temp_C: _Array
    def to_frame(self) -> pd.DataFrame: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class Predicted:
    value: float
    doubt: float
    scatter: float
    standard_error: float
    interval_95: tuple[float, float]
    def __float__(self) -> float: ...

@final
class Prediction:
    run: Run
    casting: Casting
    verdict: _Verdict
    peak_pressure_kPa: Predicted
    density_kg_m3: Predicted
    part_mass_g: Predicted
    vent_loss_g: Predicted
    flash_g: Predicted
    fill_time_s: Predicted | None
    gel_time_s: Predicted | None
    def to_frame(self) -> pd.DataFrame: ...
    def chart(
        self,
        title: str | None = None,
        *,
        trial: Trial | None = None,
        width: int = 900,
        height: int = 600,
        units: _Units = "metric",
    ) -> Chart: ...
    def report(self, units: _Units = "metric") -> str: ...
    def _repr_html_(self) -> str: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class Recommendation:
    casting: Casting
    drill: str | None
    chance: float
    misses: dict[str, float]
    runner_up: tuple[Casting, float] | None
    vents_stay: bool
    binding: tuple[str, float] | None
    give_up: tuple[str, Casting, float] | None
    warnings: list[str]
    def summary(self) -> dict[str, Any]: ...
    def to_frame(self) -> pd.DataFrame: ...
    def chart(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> Chart: ...
    def report(self, units: _Units = "metric") -> str: ...
    def next_trial(self, *, has_gauge: bool = False) -> NextTrial: ...
    def _repr_html_(self) -> str: ...

@final
class NextTrial:
    casting: Casting | None
    with_gauge: bool
    chance: float
    chance_within_two: float
    castings_expected: float
    proposals: list[str]
    def summary(self) -> dict[str, Any]: ...
    def to_frame(self) -> pd.DataFrame: ...
    def report(self, units: _Units = "metric") -> str: ...
    def _repr_html_(self) -> str: ...

@final
class Posterior:
    converged: bool
    verdict: list[str]
    divergences: int
    acceptance: float | None
    parameter_names: list[str]
    draws: _Array
    def to_frame(self) -> pd.DataFrame: ...
    def summary(self) -> dict[str, Any]: ...
    def predict(self, casting: Casting | None = None, /, *, draws: int = 1000, **settings: _Setting) -> Outcomes: ...
    def chart(self, *, width: int = 900, height: int = 600) -> Chart: ...
    def report(self) -> str: ...
    def _repr_html_(self) -> str: ...

@final
class Profile:
    parameter: str
    value: float
    interval_95: tuple[float, float]
    open: tuple[bool, bool]
    values: _Array
    rises: _Array
    def summary(self) -> dict[str, Any]: ...
    def chart(self, *, width: int = 900, height: int = 600) -> Chart: ...
    def report(self) -> str: ...
    def _repr_html_(self) -> str: ...

@final
class Outcomes:
    casting: Casting
    count: int
    failures: list[tuple[int, str]]
    peak_pressure_kPa: _Array
    density_kg_m3: _Array
    part_mass_g: _Array
    vent_loss_g: _Array
    flash_g: _Array
    fill_fraction: _Array
    fill_time_s: _Array
    gel_time_s: _Array
    margin_s: _Array
    def probabilities(self, **limits: tuple[float, float]) -> dict[str, float]: ...
    def to_frame(self) -> pd.DataFrame: ...
    def __getattr__(self, name: str) -> Any: ...

@final
class FreeRiseFit:
    grade: Grade
    converged: bool
    warnings: list[str]
    agreeing_starts: tuple[int, int]
    correlation: _Array
    parameter_names: list[str]
    def estimates_frame(self) -> pd.DataFrame: ...
    def posterior(
        self,
        *,
        draws: int = 1000,
        chains: int = 4,
        warmup: int = 300,
        seed: int = 1,
        threads: int | None = None,
        progress: Callable[[int, int], object] | None = None,
        direct: bool = False,
    ) -> Posterior: ...
    def profile(self, parameter: str) -> Profile: ...
    def report(self, units: _Units = "metric") -> str: ...
    def summary(self) -> dict[str, Any]: ...
    def chart(
        self, title: str | None = None, *, width: int = 900, height: int = 600, units: _Units = "metric"
    ) -> Chart: ...
    def charts(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> dict[str, Chart]: ...
    def _repr_html_(self) -> str: ...

@final
class QuickCurve:
    log: str
    kind: _CurveKind
    converged: bool
    warnings: list[str]
    parameters: dict[str, dict[str, Any]]
    cream_time_s: float | None
    steepest_s: float
    end_of_rise_s: float
    time_s: _Array
    height_mm: _Array
    volume_mL: _Array
    def __getattr__(self, name: str) -> Any: ...

@final
class Calibration:
    grade: Grade
    mold: Mold
    misfit_ratio: float
    casting_scatter_factor: float
    lot_scatter_factor: float
    converged: bool
    warnings: list[str]
    agreeing_starts: tuple[int, int]
    def estimates_frame(self) -> pd.DataFrame: ...
    def castings_frame(self) -> pd.DataFrame: ...
    def report(self, units: _Units = "metric") -> str: ...
    def summary(self) -> dict[str, Any]: ...
    def simulate(self, casting: Casting | None = None, /, **settings: _Setting) -> Run: ...
    def predict(self, casting: Casting | None = None, /, **settings: _Setting) -> Prediction: ...
    def posterior(
        self,
        *,
        draws: int = 1000,
        chains: int = 4,
        warmup: int = 300,
        seed: int = 1,
        threads: int | None = None,
        progress: Callable[[int, int], object] | None = None,
        direct: bool = False,
    ) -> Posterior: ...
    def profile(self, parameter: str) -> Profile: ...
    def outcomes(
        self, casting: Casting | None = None, /, *, draws: int = 1000, seed: int = 1, **settings: _Setting
    ) -> Outcomes: ...
    def recommend(
        self, casting: Casting | None = None, /, *, draws: int = 400, seed: int = 1, **asked: _Asked
    ) -> Recommendation: ...
    def next_trial(
        self,
        casting: Casting | None = None,
        /,
        *,
        has_gauge: bool | None = None,
        draws: int = 400,
        seed: int = 1,
        **asked: _Asked,
    ) -> NextTrial: ...
    def diagnose(self, *, odds: Mapping[str, float] | None = None, odd_below: float = 0.01) -> Diagnosis: ...
    def chart(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> Chart: ...
    def _repr_html_(self) -> str: ...

@final
class Diagnosis:
    odd: list[str]
    warnings: list[str]
    prior: dict[str, float]
    castings: list[dict[str, Any]]
    def to_frame(self) -> pd.DataFrame: ...
    def summary(self) -> dict[str, Any]: ...
    def chart(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> Chart: ...
    def report(self, units: _Units = "metric") -> str: ...
    def _repr_html_(self) -> str: ...

@final
class Chart:
    svg: str
    def save(self, path: _Path) -> None: ...
    def _repr_svg_(self) -> str: ...
