"""Types of the compiled part. Physics, units and sources are documented in the Rust crate.

Numbers are attributes whose names end in their unit. The customary names are listed here; every other unit of the same
quantity works as well (`run.peak_pressure_psi`, `trial.charge_oz`), by `__getattr__`. Arrays have shape (n,), dtype
float64, and are read-only. Pressures of a casting are gauge, ambient pressures absolute.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from os import PathLike
from pathlib import Path
from typing import Any, Literal, TypedDict, final, overload

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from typing_extensions import Self, Unpack

__version__: str
_Array = NDArray[np.float64]
_Path = str | PathLike[str]
_Units = Literal["metric", "us"]
_Progress = Callable[[int, int], object] | bool | None
_Priors = Mapping[str, tuple[float, float]]
_CurveKind = Literal["richards", "delayed_first_order"]
_Verdict = Literal["full", "short", "flash", "soft"]

class _Settings(TypedDict, total=False):
    """Keyword names, in every unit."""

    charge_g: float | None
    charge_kg: float | None
    charge_oz: float | None
    charge_lb: float | None
    vent_mm: float | Sequence[float] | _Array | None
    vent_cm: float | Sequence[float] | _Array | None
    vent_m: float | Sequence[float] | _Array | None
    vent_um: float | Sequence[float] | _Array | None
    vent_in: float | Sequence[float] | _Array | None
    mix_temp_C: float | None
    mix_temp_F: float | None
    mix_temp_K: float | None
    mold_temp_C: float | None
    mold_temp_F: float | None
    mold_temp_K: float | None
    left_in_cup_g: float | None
    left_in_cup_kg: float | None
    left_in_cup_oz: float | None
    left_in_cup_lb: float | None
    ambient_pressure_kPa: float | None
    ambient_pressure_Pa: float | None
    ambient_pressure_bar: float | None
    ambient_pressure_mbar: float | None
    ambient_pressure_psi: float | None
    ambient_pressure_inHg: float | None
    ambient_pressure_mmHg: float | None
    ambient_pressure_atm: float | None
    altitude_m: float | None
    altitude_ft: float | None
    closing_time_s: float | None
    closing_time_min: float | None
    demold_time_s: float | None
    demold_time_min: float | None
    opening_limit_kPa: float | None
    opening_limit_Pa: float | None
    opening_limit_bar: float | None
    opening_limit_mbar: float | None
    opening_limit_psi: float | None
    opening_limit_inHg: float | None
    opening_limit_mmHg: float | None
    opening_limit_atm: float | None
    weighed_after_h: float | None
    weighed_after_min: float | None
    weighed_after_s: float | None
    clamp_force_N: float | None
    clamp_force_kN: float | None
    clamp_force_lbf: float | None
    clamp_force_kgf: float | None
    leak_mm: float | None
    leak_cm: float | None
    leak_m: float | None
    leak_um: float | None
    leak_in: float | None
    leak_length_mm: float | None
    leak_length_cm: float | None
    leak_length_m: float | None
    leak_length_um: float | None
    leak_length_in: float | None
    leak_time_s: float | None
    leak_time_min: float | None
    leak_pressure_kPa: float | None
    leak_pressure_Pa: float | None
    leak_pressure_bar: float | None
    leak_pressure_mbar: float | None
    leak_pressure_psi: float | None
    leak_pressure_inHg: float | None
    leak_pressure_mmHg: float | None
    leak_pressure_atm: float | None

class _Axes(TypedDict, total=False):
    """Keyword names, in every unit."""

    charge_g: float | Sequence[float] | _Array | tuple[float, float, int] | None
    charge_kg: float | Sequence[float] | _Array | tuple[float, float, int] | None
    charge_oz: float | Sequence[float] | _Array | tuple[float, float, int] | None
    charge_lb: float | Sequence[float] | _Array | tuple[float, float, int] | None
    vent_mm: float | Sequence[float] | _Array | tuple[float, float, int] | None
    vent_cm: float | Sequence[float] | _Array | tuple[float, float, int] | None
    vent_m: float | Sequence[float] | _Array | tuple[float, float, int] | None
    vent_um: float | Sequence[float] | _Array | tuple[float, float, int] | None
    vent_in: float | Sequence[float] | _Array | tuple[float, float, int] | None
    mix_temp_C: float | Sequence[float] | _Array | tuple[float, float, int] | None
    mix_temp_F: float | Sequence[float] | _Array | tuple[float, float, int] | None
    mix_temp_K: float | Sequence[float] | _Array | tuple[float, float, int] | None
    mold_temp_C: float | Sequence[float] | _Array | tuple[float, float, int] | None
    mold_temp_F: float | Sequence[float] | _Array | tuple[float, float, int] | None
    mold_temp_K: float | Sequence[float] | _Array | tuple[float, float, int] | None
    left_in_cup_g: float | Sequence[float] | _Array | tuple[float, float, int] | None
    left_in_cup_kg: float | Sequence[float] | _Array | tuple[float, float, int] | None
    left_in_cup_oz: float | Sequence[float] | _Array | tuple[float, float, int] | None
    left_in_cup_lb: float | Sequence[float] | _Array | tuple[float, float, int] | None
    ambient_pressure_kPa: float | Sequence[float] | _Array | tuple[float, float, int] | None
    ambient_pressure_Pa: float | Sequence[float] | _Array | tuple[float, float, int] | None
    ambient_pressure_bar: float | Sequence[float] | _Array | tuple[float, float, int] | None
    ambient_pressure_mbar: float | Sequence[float] | _Array | tuple[float, float, int] | None
    ambient_pressure_psi: float | Sequence[float] | _Array | tuple[float, float, int] | None
    ambient_pressure_inHg: float | Sequence[float] | _Array | tuple[float, float, int] | None
    ambient_pressure_mmHg: float | Sequence[float] | _Array | tuple[float, float, int] | None
    ambient_pressure_atm: float | Sequence[float] | _Array | tuple[float, float, int] | None
    altitude_m: float | Sequence[float] | _Array | tuple[float, float, int] | None
    altitude_ft: float | Sequence[float] | _Array | tuple[float, float, int] | None
    closing_time_s: float | Sequence[float] | _Array | tuple[float, float, int] | None
    closing_time_min: float | Sequence[float] | _Array | tuple[float, float, int] | None
    demold_time_s: float | Sequence[float] | _Array | tuple[float, float, int] | None
    demold_time_min: float | Sequence[float] | _Array | tuple[float, float, int] | None
    opening_limit_kPa: float | Sequence[float] | _Array | tuple[float, float, int] | None
    opening_limit_Pa: float | Sequence[float] | _Array | tuple[float, float, int] | None
    opening_limit_bar: float | Sequence[float] | _Array | tuple[float, float, int] | None
    opening_limit_mbar: float | Sequence[float] | _Array | tuple[float, float, int] | None
    opening_limit_psi: float | Sequence[float] | _Array | tuple[float, float, int] | None
    opening_limit_inHg: float | Sequence[float] | _Array | tuple[float, float, int] | None
    opening_limit_mmHg: float | Sequence[float] | _Array | tuple[float, float, int] | None
    opening_limit_atm: float | Sequence[float] | _Array | tuple[float, float, int] | None
    weighed_after_h: float | Sequence[float] | _Array | tuple[float, float, int] | None
    weighed_after_min: float | Sequence[float] | _Array | tuple[float, float, int] | None
    weighed_after_s: float | Sequence[float] | _Array | tuple[float, float, int] | None
    clamp_force_N: float | Sequence[float] | _Array | tuple[float, float, int] | None
    clamp_force_kN: float | Sequence[float] | _Array | tuple[float, float, int] | None
    clamp_force_lbf: float | Sequence[float] | _Array | tuple[float, float, int] | None
    clamp_force_kgf: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_mm: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_cm: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_m: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_um: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_in: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_length_mm: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_length_cm: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_length_m: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_length_um: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_length_in: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_time_s: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_time_min: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_pressure_kPa: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_pressure_Pa: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_pressure_bar: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_pressure_mbar: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_pressure_psi: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_pressure_inHg: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_pressure_mmHg: float | Sequence[float] | _Array | tuple[float, float, int] | None
    leak_pressure_atm: float | Sequence[float] | _Array | tuple[float, float, int] | None

class _Asked(_Settings, total=False):
    """Keyword names, in every unit."""

    target_density_kg_m3: float
    target_density_g_cm3: float
    target_density_g_L: float
    target_density_lb_ft3: float
    tolerance: float
    tolerance_percent: float
    pressure_kPa: tuple[float, float]
    pressure_Pa: tuple[float, float]
    pressure_bar: tuple[float, float]
    pressure_mbar: tuple[float, float]
    pressure_psi: tuple[float, float]
    pressure_inHg: tuple[float, float]
    pressure_mmHg: tuple[float, float]
    pressure_atm: tuple[float, float]
    charges_g: tuple[float, float]
    charges_kg: tuple[float, float]
    charges_oz: tuple[float, float]
    charges_lb: tuple[float, float]
    charge_step_g: float
    charge_step_kg: float
    charge_step_oz: float
    charge_step_lb: float
    drills_mm: Sequence[float]
    drills_cm: Sequence[float]
    drills_m: Sequence[float]
    drills_um: Sequence[float]
    drills_in: Sequence[float]
    drills: Sequence[float | str]

class _Limits(TypedDict, total=False):
    """Keyword names, in every unit."""

    density_kg_m3: tuple[float, float]
    density_g_cm3: tuple[float, float]
    density_g_L: tuple[float, float]
    density_lb_ft3: tuple[float, float]
    peak_pressure_kPa: tuple[float, float]
    peak_pressure_Pa: tuple[float, float]
    peak_pressure_bar: tuple[float, float]
    peak_pressure_mbar: tuple[float, float]
    peak_pressure_psi: tuple[float, float]
    peak_pressure_inHg: tuple[float, float]
    peak_pressure_mmHg: tuple[float, float]
    peak_pressure_atm: tuple[float, float]

class _Constants(TypedDict, total=False):
    """Keyword names, in every unit."""

    liquid_density_kg_m3: float
    liquid_density_g_cm3: float
    liquid_density_g_L: float
    liquid_density_lb_ft3: float
    heat_capacity_J_kgK: float
    heat_capacity_kJ_kgK: float
    conductivity_W_mK: float
    conductivity_mW_mK: float
    induction_s: float
    induction_min: float
    gas_yield_mol_kg: float
    blow_rate_per_s: float
    blow_rate_per_min: float
    blow_activation_kJ_mol: float
    blow_activation_J_mol: float
    gel_rate_per_s: float
    gel_rate_per_min: float
    gel_activation_kJ_mol: float
    gel_activation_J_mol: float
    competition: float
    blow_heat_K: float
    blow_heat_F: float
    gel_heat_K: float
    gel_heat_F: float
    solubility_kg_kgbar: float
    solubility_g_kgbar: float
    air_fraction: float
    air_fraction_percent: float
    gel_conversion: float
    gel_conversion_percent: float
    rise_end_conversion: float
    rise_end_conversion_percent: float
    viscosity_Pa_s: float
    viscosity_mPa_s: float
    viscosity_activation_kJ_mol: float
    viscosity_activation_J_mol: float
    viscosity_a: float
    viscosity_b: float
    settling: float
    settling_percent: float
    cell_opening_time_s: float
    cell_opening_time_min: float
    note: str

class _GradeChanges(_Constants, total=False):
    """Keyword names, in every unit."""

    name: str

class _MoldChanges(TypedDict, total=False):
    """Keyword names, in every unit."""

    volume_mL: float
    volume_cm3: float
    volume_L: float
    volume_m3: float
    volume_in3: float
    projected_area_cm2: float
    projected_area_mm2: float
    projected_area_m2: float
    projected_area_in2: float
    wall_area_cm2: float
    wall_area_mm2: float
    wall_area_m2: float
    wall_area_in2: float
    heat_transfer_W_m2K: float
    contact_transfer_W_m2K: float | None
    conduction_factor: float | None
    stretch_per_bar: float
    stretch_per_kPa: float
    stretch_percent_per_bar: float
    gas_retention: float
    rate_factor: float
    discharge: float
    discharge_percent: float
    parting_length_mm: float | None
    parting_length_cm: float | None
    parting_length_m: float | None
    parting_length_um: float | None
    parting_length_in: float | None
    parting_land_mm: float | None
    parting_land_cm: float | None
    parting_land_m: float | None
    parting_land_um: float | None
    parting_land_in: float | None
    parting_gap_mm: float | None
    parting_gap_cm: float | None
    parting_gap_m: float | None
    parting_gap_um: float | None
    parting_gap_in: float | None
    parting_opening_um_per_kN: float | None
    parting_opening_mm_per_kN: float | None
    parting_opening_in_per_lbf: float | None
    parting_at_fill: float | None
    parting_at_fill_percent: float | None
    clamp_force_N: float | None
    clamp_force_kN: float | None
    clamp_force_lbf: float | None
    clamp_force_kgf: float | None
    vent_mm: float | Sequence[float] | _Array
    vent_cm: float | Sequence[float] | _Array
    vent_m: float | Sequence[float] | _Array
    vent_um: float | Sequence[float] | _Array
    vent_in: float | Sequence[float] | _Array
    vent_length_mm: float | Sequence[float] | _Array
    vent_length_cm: float | Sequence[float] | _Array
    vent_length_m: float | Sequence[float] | _Array
    vent_length_um: float | Sequence[float] | _Array
    vent_length_in: float | Sequence[float] | _Array
    vent_at_fill: float | Sequence[float] | _Array
    vent_at_fill_percent: float | Sequence[float] | _Array
    note: str
    name: str

class _CupTest(TypedDict, total=False):
    """Keyword names, in every unit."""

    mass_g: float | None
    mass_kg: float | None
    mass_oz: float | None
    mass_lb: float | None
    mix_temp_C: float | None
    mix_temp_F: float | None
    mix_temp_K: float | None
    ambient_temp_C: float | None
    ambient_temp_F: float | None
    ambient_temp_K: float | None
    ambient_pressure_kPa: float | None
    ambient_pressure_Pa: float | None
    ambient_pressure_bar: float | None
    ambient_pressure_mbar: float | None
    ambient_pressure_psi: float | None
    ambient_pressure_inHg: float | None
    ambient_pressure_mmHg: float | None
    ambient_pressure_atm: float | None
    altitude_m: float | None
    altitude_ft: float | None
    cup_diameter_mm: float | None
    cup_diameter_cm: float | None
    cup_diameter_m: float | None
    cup_diameter_um: float | None
    cup_diameter_in: float | None
    cup_bottom_diameter_mm: float | None
    cup_bottom_diameter_cm: float | None
    cup_bottom_diameter_m: float | None
    cup_bottom_diameter_um: float | None
    cup_bottom_diameter_in: float | None
    cup_top_diameter_mm: float | None
    cup_top_diameter_cm: float | None
    cup_top_diameter_m: float | None
    cup_top_diameter_um: float | None
    cup_top_diameter_in: float | None
    cup_height_mm: float | None
    cup_height_cm: float | None
    cup_height_m: float | None
    cup_height_um: float | None
    cup_height_in: float | None
    heat_area_cm2: float | None
    heat_area_mm2: float | None
    heat_area_m2: float | None
    heat_area_in2: float | None
    cup_heat_transfer_W_m2K: float | None
    core_heat_loss_factor: float | None
    sensor_lag_s: float | None
    sensor_lag_min: float | None

class _InAnyUnit:
    def __getattr__(self, name: str) -> Any: ...

class _SettingValues:
    """In customary units; any other unit of the quantity works as well."""

    charge_g: float
    """Mass mixed, before what stays in the cup."""
    vent_mm: _Array | None
    """Diameter of all vents, or one for each kind of vent that can be drilled; 0: plugged."""
    mix_temp_C: float
    """Temperature of the mix when it is poured."""
    mold_temp_C: float
    """Temperature of the mold wall."""
    left_in_cup_g: float
    """Mass left in the mixing cup."""
    ambient_pressure_kPa: float
    """Absolute ambient pressure of the place, not reduced to sea level."""
    closing_time_s: float
    """Time from the end of mixing to the mold's closing."""
    demold_time_s: float
    """Time from the end of mixing to demold."""
    opening_limit_kPa: float
    """Gauge pressure that counts as low: the outcomes say from when on it stays below."""
    weighed_after_h: float
    """Time from demold to when the part is weighed: gas leaves it meanwhile."""
    clamp_force_N: float | None
    """Clamp force instead of the mold's own."""
    leak_mm: float | None
    """Diameter of a hole like the extra leak."""
    leak_length_mm: float | None
    """Length of the leak along the flow."""
    leak_time_s: float | None
    """Time from the end of mixing at which the leak opens."""
    leak_pressure_kPa: float | None
    """Gauge pressure at which the leak opens."""

class _Observed:
    """In customary units; any other unit of the quantity works as well."""

    part_mass_g: float | None
    """Reading of the scale for the trimmed part."""
    vent_loss_g: float | None
    """Mass that came out of the vents."""
    flash_g: float | None
    """Mass that came out at the parting line."""
    peak_pressure_kPa: float | None
    """Highest gauge pressure that a gauge showed."""
    core_temp_C: float | None
    """Hottest core that was read."""
    ambient_temp_C: float | None
    """Temperature of the shop."""

class _ConstantValues:
    """In customary units; any other unit of the quantity works as well."""

    liquid_density_kg_m3: float
    """Density of the liquid mix without gas."""
    heat_capacity_J_kgK: float
    """Heat capacity of the mix."""
    conductivity_W_mK: float
    """Thermal conductivity of the mix without gas; foam in layers conducts by it."""
    induction_s: float
    """Time after mixing until the reactions start."""
    gas_yield_mol_kg: float
    """CO2 that the mix can make."""
    blow_rate_per_s: float
    """First-order blowing rate at 40 °C."""
    blow_activation_kJ_mol: float
    """Activation energy of blowing."""
    gel_rate_per_s: float
    """Second-order gelling rate at 40 °C."""
    gel_activation_kJ_mol: float
    """Activation energy of gelling."""
    competition: float
    """How much gelling takes the isocyanate away from blowing: 0 not at all, 1 as much as from itself."""
    blow_heat_K: float
    """Adiabatic temperature rise of the whole blowing reaction."""
    gel_heat_K: float
    """Adiabatic temperature rise of the whole gelling reaction."""
    solubility_kg_kgbar: float
    """CO2 that the liquid holds per absolute pressure."""
    air_fraction: float
    """Air beaten in while mixing, as a share of the liquid's volume at ambient pressure."""
    gel_conversion: float
    """Gelling conversion at which the mix stops flowing."""
    rise_end_conversion: float
    """Gelling conversion at which an unconfined foam stops rising."""
    viscosity_Pa_s: float
    """Viscosity of the unreacted mix at 40 °C."""
    viscosity_activation_kJ_mol: float
    """Activation energy of the viscosity."""
    viscosity_a: float
    """Castro-Macosko exponent a."""
    viscosity_b: float
    """Castro-Macosko exponent b."""
    settling: float
    """Share of the maximum height that is lost after the maximum."""
    cell_opening_time_s: float
    """Time constant of gas loss through opened cells after gel; infinite: cells stay closed."""

class _CavityValues:
    """In customary units; any other unit of the quantity works as well."""

    volume_mL: float
    """Volume of the closed cavity."""
    projected_area_cm2: float
    """Area projected on the parting plane."""
    wall_area_cm2: float
    """Area of the wall that the foam touches."""
    heat_transfer_W_m2K: float
    """Of foam as one lump: heat transfer from its mean temperature to the wall."""
    contact_transfer_W_m2K: float | None
    """Of foam in layers: heat transfer from its surface to the wall."""
    conduction_factor: float | None
    """Of foam in layers: how well heat passes, as a multiple of what conductivity and contact say."""
    stretch_per_bar: float
    """Relative growth of the cavity per gauge pressure; 0: rigid."""
    gas_retention: float
    """CO2 that the foam keeps in this mold, as a multiple of what it keeps in an open cup."""
    rate_factor: float
    """How fast the mix reacts in this mold, as a multiple of how fast it does in a cup."""
    discharge: float
    """Discharge coefficient of vents."""
    parting_length_mm: float | None
    """Length of the parting line along the cavity."""
    parting_land_mm: float | None
    """Width of the parting line that the flow has to cross."""
    parting_gap_mm: float | None
    """Gap of the parting line while the clamp holds."""
    parting_opening_um_per_kN: float | None
    """Gap that opens per force beyond the clamp."""
    parting_at_fill: float | None
    """Fill fraction at which the foam reaches the parting line."""
    clamp_force_N: float | None
    """Force that holds the mold closed; none: bolted, never opens."""

class _OutcomeValues:
    """In customary units; any other unit of the quantity works as well."""

    peak_pressure_kPa: float
    """Highest gauge pressure in the cavity."""
    density_kg_m3: float
    """Overall density in the sense of ISO 845: mass of the part over volume of the cavity."""
    part_mass_g: float
    """Mass of the mix that stayed in the cavity."""
    scale_reading_g: float
    """What a scale in air shows of the part when it is weighed (`weighed_after`): less by gas that left and by
    buoyancy.
    """
    vent_loss_g: float
    """Mass of foam lost through vents."""
    flash_g: float
    """Mass of foam lost through the parting line or a leak."""
    fill_fraction: float
    """Share of the cavity that foam fills at demold."""
    fill_time_s: float | None
    """When the foam reaches the last opening."""
    gel_time_s: float | None
    """When the foam stops flowing."""
    margin_s: float | None
    """Gel time less fill time: how much later the foam could have filled the cavity."""
    peak_time_s: float
    """When the pressure is highest."""
    pressure_at_gel_kPa: float | None
    """Gauge pressure when the foam gels."""
    pressure_at_demold_kPa: float
    """Gauge pressure at demold; below zero where the foam has cooled under ambient pressure."""
    low_pressure_time_s: float | None
    """When the gauge pressure of set foam falls below `opening_limit` for good: an estimate, no permission to open."""
    rise_start_s: float | None
    """When CO2 has saturated the liquid and the foam begins to rise."""
    clamp_needed_N: float
    """Clamp force that would hold the peak pressure; an estimate, no safety calculation."""
    clamp_opened_s: float | None
    """When the pressure first exceeds the clamp."""
    leak_opened_s: float | None
    """When the leak opens."""
    free_rise_density_kg_m3: float
    """Density of the same mix in a free rise without heat loss, at the same ambient pressure."""
    packing_factor: float
    """Density of the part over free-rise density."""
    peak_core_temp_C: float
    """Hottest that the core gets: of a lump an upper bound, without heat loss; of foam in layers that of the middle."""
    temp_at_demold_C: float
    """Mean temperature of the foam at demold."""
    gelled_at_demold: float
    """Mean gelling conversion of the foam at demold."""
    blown_at_demold: float
    """Mean blowing conversion of the foam at demold."""
    skin_thickness_mm: float | None
    """How deep the foam, as it gels, is more than 1.2 times as dense as in the middle; of foam in layers only."""
    core_density_kg_m3: float | None
    """Density of what lies within the skin, as it gels, in the sense of ISO 845; of foam in layers only."""
    skin_set_time_s: float | None
    """When the outer twentieth of the foam gels; of foam in layers only."""
    skin_set_pressure_kPa: float | None
    """Gauge pressure when the outer twentieth of the foam gels; of foam in layers only."""
    skin_set_temp_C: float | None
    """Temperature of the outer twentieth of the foam when it gels; of foam in layers only."""

class _OutcomeArrays:
    """In customary units; any other unit of the quantity works as well."""

    peak_pressure_kPa: _Array
    """Highest gauge pressure in the cavity."""
    density_kg_m3: _Array
    """Overall density in the sense of ISO 845: mass of the part over volume of the cavity."""
    part_mass_g: _Array
    """Mass of the mix that stayed in the cavity."""
    scale_reading_g: _Array
    """What a scale in air shows of the part when it is weighed (`weighed_after`): less by gas that left and by
    buoyancy.
    """
    vent_loss_g: _Array
    """Mass of foam lost through vents."""
    flash_g: _Array
    """Mass of foam lost through the parting line or a leak."""
    fill_fraction: _Array
    """Share of the cavity that foam fills at demold."""
    fill_time_s: _Array
    """When the foam reaches the last opening."""
    gel_time_s: _Array
    """When the foam stops flowing."""
    margin_s: _Array
    """Gel time less fill time: how much later the foam could have filled the cavity."""
    peak_time_s: _Array
    """When the pressure is highest."""
    pressure_at_gel_kPa: _Array
    """Gauge pressure when the foam gels."""
    pressure_at_demold_kPa: _Array
    """Gauge pressure at demold; below zero where the foam has cooled under ambient pressure."""
    low_pressure_time_s: _Array
    """When the gauge pressure of set foam falls below `opening_limit` for good: an estimate, no permission to open."""
    rise_start_s: _Array
    """When CO2 has saturated the liquid and the foam begins to rise."""
    clamp_needed_N: _Array
    """Clamp force that would hold the peak pressure; an estimate, no safety calculation."""
    clamp_opened_s: _Array
    """When the pressure first exceeds the clamp."""
    leak_opened_s: _Array
    """When the leak opens."""
    free_rise_density_kg_m3: _Array
    """Density of the same mix in a free rise without heat loss, at the same ambient pressure."""
    packing_factor: _Array
    """Density of the part over free-rise density."""
    peak_core_temp_C: _Array
    """Hottest that the core gets: of a lump an upper bound, without heat loss; of foam in layers that of the middle."""
    temp_at_demold_C: _Array
    """Mean temperature of the foam at demold."""
    gelled_at_demold: _Array
    """Mean gelling conversion of the foam at demold."""
    blown_at_demold: _Array
    """Mean blowing conversion of the foam at demold."""
    skin_thickness_mm: _Array
    """How deep the foam, as it gels, is more than 1.2 times as dense as in the middle; of foam in layers only."""
    core_density_kg_m3: _Array
    """Density of what lies within the skin, as it gels, in the sense of ISO 845; of foam in layers only."""
    skin_set_time_s: _Array
    """When the outer twentieth of the foam gels; of foam in layers only."""
    skin_set_pressure_kPa: _Array
    """Gauge pressure when the outer twentieth of the foam gels; of foam in layers only."""
    skin_set_temp_C: _Array
    """Temperature of the outer twentieth of the foam when it gels; of foam in layers only."""

class _DrawnArrays:
    """In customary units; any other unit of the quantity works as well."""

    peak_pressure_kPa: _Array
    """Highest gauge pressure in the cavity."""
    density_kg_m3: _Array
    """Overall density in the sense of ISO 845: mass of the part over volume of the cavity."""
    part_mass_g: _Array
    """Mass of the mix that stayed in the cavity."""
    scale_reading_g: _Array
    """What a scale in air shows of the part when it is weighed (`weighed_after`): less by gas that left and by
    buoyancy.
    """
    vent_loss_g: _Array
    """Mass of foam lost through vents."""
    flash_g: _Array
    """Mass of foam lost through the parting line or a leak."""
    fill_fraction: _Array
    """Share of the cavity that foam fills at demold."""
    fill_time_s: _Array
    """When the foam reaches the last opening."""
    gel_time_s: _Array
    """When the foam stops flowing."""
    margin_s: _Array
    """Gel time less fill time: how much later the foam could have filled the cavity."""
    pressure_at_demold_kPa: _Array
    """Gauge pressure at demold; below zero where the foam has cooled under ambient pressure."""
    low_pressure_time_s: _Array
    """When the gauge pressure of set foam falls below `opening_limit` for good: an estimate, no permission to open."""
    temp_at_demold_C: _Array
    """Mean temperature of the foam at demold."""
    gelled_at_demold: _Array
    """Mean gelling conversion of the foam at demold."""
    skin_thickness_mm: _Array
    """How deep the foam, as it gels, is more than 1.2 times as dense as in the middle; of foam in layers only."""
    core_density_kg_m3: _Array
    """Density of what lies within the skin, as it gels, in the sense of ISO 845; of foam in layers only."""

class _PredictedValues:
    """In customary units; any other unit of the quantity works as well."""

    peak_pressure_kPa: Predicted
    """Highest gauge pressure in the cavity."""
    density_kg_m3: Predicted
    """Overall density in the sense of ISO 845: mass of the part over volume of the cavity."""
    part_mass_g: Predicted
    """Mass of the mix that stayed in the cavity."""
    scale_reading_g: Predicted
    """What a scale in air shows of the part when it is weighed (`weighed_after`): less by gas that left and by
    buoyancy.
    """
    vent_loss_g: Predicted
    """Mass of foam lost through vents."""
    flash_g: Predicted
    """Mass of foam lost through the parting line or a leak."""
    fill_time_s: Predicted | None
    """When the foam reaches the last opening."""
    gel_time_s: Predicted | None
    """When the foam stops flowing."""
    clamp_needed_N: Predicted
    """Clamp force that would hold the peak pressure; an estimate, no safety calculation."""

def read_rise_logs(files: _Path | Iterable[_Path]) -> list[RiseLog]:
    """Reads rise logs: a file, a pattern such as `data/logs/*.csv` (sorted by name), or a list of them."""

def read_trials(file: _Path) -> list[Trial]:
    """Reads a trial ledger, one casting a row, with the traces that it names."""

def priors() -> dict[str, tuple[float, float]]:
    """The prior of every parameter, what is expected of it before any record: `{name: (median, spread)}`, in the unit
    of the name. The spread is a factor (one standard deviation of the logarithm) for what cannot be negative, and a
    standard deviation for the errors of single records and the dome. Changed entries can be given back as `priors=`
    of a fit.
    """

def simulate(
    grade: Grade,
    mold: Mold,
    casting: Casting | None = None,
    /,
    *,
    accuracy: float = 1e-06,
    layers: int | None = None,
    **settings: Unpack[_Settings],
) -> Run:
    """Simulates one casting of a grade in a mold: settings by name, as in `Casting`, or one `Casting` and changes to
    it. `accuracy` is the relative error per step; `layers` of foam instead of the mold's.
    """

@overload
def sweep(
    grade: Grade,
    mold: Mold,
    casting: Casting | None = None,
    /,
    *,
    accuracy: float | None = None,
    layers: int | None = None,
    threads: int | None = None,
    progress: _Progress = None,
    **settings: Unpack[_Axes],
) -> SweepResult:
    """Casts a grade in a mold, or a calibration, over a grid of settings.

    A row of values is an axis, one value a setting that does not vary: a tuple `(first, last, how many)`, both ends
    included, or a list or array of the values. Names and units as in `Casting`; `vent_mm` sets all vents alike (for
    one diameter each, give a `Casting` before the settings). The last axis runs fastest. A list of (Grade, Mold)
    pairs adds a first axis `draw`. `layers` of foam instead of the molds'; a calibration keeps its own. `threads`:
    one for each core if not given; the numbers do not depend on it. `progress`: a function of (done, points),
    `True` or `False`; if not given, a line on the terminal after a second. Ctrl-C raises `SweepInterrupted`, a
    `KeyboardInterrupt` whose `partial` has what was cast. Raises `ArgumentError`.
    """

@overload
def sweep(
    calibration: Calibration,
    casting: Casting | None = None,
    /,
    *,
    accuracy: float | None = None,
    layers: int | None = None,
    threads: int | None = None,
    progress: _Progress = None,
    **settings: Unpack[_Axes],
) -> SweepResult: ...
@overload
def sweep(
    draws: Sequence[tuple[Grade, Mold]],
    casting: Casting | None = None,
    /,
    *,
    accuracy: float | None = None,
    layers: int | None = None,
    threads: int | None = None,
    progress: _Progress = None,
    **settings: Unpack[_Axes],
) -> SweepResult: ...
def free_rise(
    grade: Grade, *, times_s: ArrayLike | None = None, accuracy: float = 1e-06, **settings: Unpack[_CupTest]
) -> FreeRise:
    """Simulates a free rise.

    Needed: `mass_g`, `mix_temp_C`. Others, with what is assumed: `ambient_temp_C` (that of the mix),
    `ambient_pressure_kPa` (absolute) or `altitude_m` (sea level), `cup_diameter_mm` or `cup_bottom_diameter_mm` and
    `cup_top_diameter_mm`, with `cup_height_mm` (no cup: no heights), `heat_area_cm2` (the cup's inside; no cup: 0),
    `cup_heat_transfer_W_m2K` (8), `core_heat_loss_factor` (0.1: the share of the mean loss of heat that the core
    feels), `sensor_lag_s` (0). `times_s` are the times to read it at; by default 0 to 300 s, every second.
    `accuracy` is the relative error per step. Raises `ArgumentError`, `IntegrationError`.
    """

def fit_free_rise(
    logs: RiseLog | Iterable[RiseLog],
    *,
    start: Grade | GradeKnowledge | None = None,
    name: str | None = None,
    starts: int = 4,
    held: Mapping[str, float] | None = None,
    priors: _Priors | None = None,
    model_error: float = 1.0,
    threads: int | None = None,
) -> FreeRiseFit:
    """Fits a grade to one or several cup tests: a `RiseLog`, or a list of them.

    `start` is what is known of the grade already, a `Grade` or a `GradeKnowledge` (by default a light flexible
    grade): constants that no cup tells, such as the density of the liquid, are kept. `name` names the result.
    `starts` is how many points to fit from; `held` keeps parameters at a value: `{"gel_conversion": 0.64}`, or
    `{"cell_opening_time_s": float("inf")}` for cells that stay closed; `priors` replaces entries of
    `risefit.priors()`. `model_error` is what the model is taken to miss of logged rises, as a multiple of what is
    usual (half a percent of a height, one percent of a temperature, in pieces of a fifth of the rise); 0 if the
    logs came out of this model. `threads` (`None`: one per core) changes no bit. Ctrl-C stops it. Raises
    `TooFewRecordsError`, `FitError`, `ArgumentError`.
    """

def calibrate(
    grade: FreeRiseFit | GradeKnowledge | Grade,
    mold: Mold,
    trials: Trial | Iterable[Trial],
    *,
    layers: int | None = None,
    starts: int = 4,
    held: Mapping[str, float] | None = None,
    priors: _Priors | None = None,
    threads: int | None = None,
) -> Calibration:
    """Calibrates a mold against castings: a list of `Trial`, or one.

    `grade` is a `FreeRiseFit` or a `GradeKnowledge`, whose errors are taken along, or a `Grade`, which may then be
    off by what is believed. `layers` of foam instead of the mold's; `starts`, `held`, `priors` and `threads` as in
    `fit_free_rise`. Ctrl-C stops it. Raises `TooFewRecordsError`, `FitError`, `CastingError`, `ArgumentError`.
    """

def grade_from_datasheet(
    datasheet: Datasheet,
    *,
    starts: int = 4,
    held: Mapping[str, float] | None = None,
    priors: _Priors | None = None,
    threads: int | None = None,
) -> GradeKnowledge:
    """What is known of a grade from its data sheet alone: density and times are fitted as one cup test, all else stays
    at what is believed, with its doubt.

    The first argument of `calibrate` and the `start` of `fit_free_rise`. `starts`, `held`, `priors` and `threads`
    as there; Ctrl-C stops it. Raises `FitError`, `ArgumentError`.
    """

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
    threads: int | None = None,
    layers: int | None = None,
    **asked: Unpack[_Asked],
) -> Recommendation:
    """The charge and vent to begin with in a mold that was never cast in: as `Calibration.recommend`, from `grade` as
    in `calibrate` and the mold as described; `held` and `priors` as in `fit_free_rise`, `layers` as in `calibrate`.
    Raises `CastingError`, `ArgumentError`.
    """

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
    threads: int | None = None,
    layers: int | None = None,
    **settings: Unpack[_Settings],
) -> Outcomes:
    """The outcomes of a casting in a mold that was never cast in: `grade` as in `calibrate`, the mold as described;
    `held` and `priors` as in `fit_free_rise`, `layers` as in `calibrate`; settings as in `Casting`. Raises
    `CastingError`, `ArgumentError`.
    """

def quick_curve(log: RiseLog, *, kind: _CurveKind = "richards") -> QuickCurve:
    """Fits a plain curve to a log's heights, or its volumes: for a quick look, it predicts nothing but this cup.

    `kind` is `"richards"` (an S) or `"delayed_first_order"` (a delay, then an exponential approach). Raises
    `TooFewRecordsError`, `FitError`, `ArgumentError`.
    """

def short_report(
    fit: FreeRiseFit,
    calibration: Calibration,
    predictions: Prediction | Iterable[Prediction],
    *,
    units: _Units = "metric",
) -> str:
    """The report of a whole job on a screen or two, as text: predictions side by side, parameters, warnings, cautions.

    `predictions` is one `Prediction` or several; `units` is `"metric"` or `"us"`.
    """

def write_report(
    fit: FreeRiseFit,
    calibration: Calibration,
    predictions: Prediction | Iterable[Prediction],
    folder: _Path,
    *,
    units: _Units = "metric",
) -> list[Path]:
    """Writes `report.html`, `summary.json` and every chart as an SVG file into a folder, which is made if needed.
    Gives the paths.

    `predictions` and `units` as in `short_report`. Raises `ArgumentError` for a folder that cannot be written to.
    """

@final
class Casting(_SettingValues, _InAnyUnit):
    """How one casting is run.

    Needed: `charge_g`, `mix_temp_C`, `mold_temp_C`. Others, with what is assumed: `vent_mm` (the mold's own; a
    list: one diameter for each vent of the mold; 0: plugged), `left_in_cup_g` (0), `ambient_pressure_kPa`
    (absolute) or `altitude_m` (sea level), `closing_time_s` (0), `demold_time_s` (300), `clamp_force_N` (the mold's
    own), `opening_limit_kPa` (5, gauge: what counts as low), `weighed_after_h` (0: at demold), and a leak:
    `leak_mm`, `leak_length_mm`, and `leak_time_s` or `leak_pressure_kPa` (gauge). Any unit of the quantity will do:
    `charge_oz`, `vent_in`, `mix_temp_F`. Raises `ArgumentError`.
    """

    def __new__(cls, **settings: Unpack[_Settings]) -> Self: ...
    def replace(self, **changes: Unpack[_Settings]) -> Casting:
        """The same casting with some settings changed; `None` takes a setting back to what is assumed."""

@final
class Grade(_ConstantValues, _InAnyUnit):
    """A foam grade: a name and its constants per kilogram of mix; rates and viscosity at 40 °C.

    `Grade(name)` has the starting values of a light flexible grade; further arguments change constants, with units
    in their names: `Grade("K", viscosity_Pa_s=1.5)`.
    """

    name: str
    note: str
    constants: dict[str, float]
    """Every constant under its name with the customary unit."""

    def __new__(cls, name: str, **constants: Unpack[_Constants]) -> Self: ...
    @staticmethod
    def load(path: _Path) -> Grade:
        """Reads a grade from a TOML file."""

    def save(self, path: _Path) -> None:
        """Writes the grade to a TOML file."""

    @staticmethod
    def from_toml(text: str) -> Grade:
        """Reads a grade from the text of a TOML file."""

    def to_toml(self) -> str:
        """The text of its TOML file."""

    def replace(self, **changes: Unpack[_GradeChanges]) -> Grade:
        """The same grade with other constants, `name` or `note`."""

@final
class Datasheet(_InAnyUnit):
    """A supplier's data sheet of a grade. What it does not say is `None`."""

    name: str
    note: str
    file: str | None
    mix_ratio: str | None
    """Resin to isocyanate, as written."""
    recipe: Recipe | None
    assumed: list[str]
    """What the sheet left out and was assumed, in words."""
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
    def load(path: _Path) -> Datasheet:
        """Reads a data sheet from a TOML file."""

    @staticmethod
    def from_toml(text: str) -> Datasheet:
        """Reads a data sheet from the text of a TOML file."""

@final
class Recipe(_InAnyUnit):
    """A recipe in parts by mass.

    `polyols` are pairs of parts and OH number (mg KOH/g; of a component with an equivalent weight E: 56105.6 / E);
    `isocyanate_equivalent` is in g per NCO group. Raises `ArgumentError` for amounts that make no sense.
    """

    polyols: list[tuple[float, float]]
    """Parts and OH number (mg KOH/g) of each polyol."""
    water: float
    inert: float
    isocyanate_equivalent: float
    index: float
    isocyanate: float
    """Isocyanate needed, parts."""
    gas_yield_mol_kg: float

    def __new__(
        cls,
        *,
        polyols: Sequence[tuple[float, float]],
        water: float,
        isocyanate_equivalent: float,
        index: float,
        inert: float = 0.0,
    ) -> Self: ...
    @staticmethod
    def load(path: _Path) -> Recipe:
        """Reads a recipe from a TOML file."""

    @staticmethod
    def from_toml(text: str) -> Recipe:
        """Reads a recipe from the text of a TOML file."""

    def gas_yield_prior(self) -> tuple[float, float]:
        """What the recipe lets one believe of the gas yield: its stoichiometry and a factor around it. Goes into a fit
        as `priors={"gas_yield_mol_kg": recipe.gas_yield_prior()}`.
        """

@final
class GradeKnowledge:
    """A grade with the doubt about its constants."""

    grade: Grade
    """The grade at its best values."""
    in_doubt: list[str]
    """Names of the constants in doubt, with their units."""

@final
class Mold(_CavityValues, _InAnyUnit):
    """A mold: a name, its cavity, vents, parting line and clamp."""

    name: str
    note: str
    layers: int
    """How many layers of foam lie between wall and mid-plane; 1: the foam is one lump."""
    vents: list[dict[str, Any]]
    """Each kind of vent: `count`, `diameter_mm`, `length_mm`, `at_fill`."""

    @staticmethod
    def load(path: _Path) -> Mold:
        """Reads a mold from a TOML file."""

    def save(self, path: _Path) -> None:
        """Writes the mold to a TOML file."""

    @staticmethod
    def from_toml(text: str) -> Mold:
        """Reads a mold from the text of a TOML file."""

    def to_toml(self) -> str:
        """The text of its TOML file."""

    def replace(self, **changes: Unpack[_MoldChanges]) -> Mold:
        """The same mold with other values, `name` or `note`. `vent_mm` and `vent_length_mm` set all vents, or one each
        from a list; `clamp_force_N=None` bolts the mold; `layers=4` takes the foam in layers.
        """

@final
class RiseLog(_InAnyUnit):
    """One free-rise cup test as it was read. Series are arrays with nan where a reading is absent, or `None`."""

    name: str
    file: str | None
    assumed: list[str]
    """What the file left out and was assumed, in words."""
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

    def to_frame(self) -> pd.DataFrame:
        """The series as a `pandas.DataFrame`."""

    def chart(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> Chart:
        """The log as a chart."""

@final
class Trial(_SettingValues, _Observed, _InAnyUnit):
    """One logged casting. Its settings are attributes too, and together in `casting`; pressures are gauge."""

    name: str
    file: str | None
    line: int | None
    """Line in the ledger, counted from 1."""
    casting: Casting
    """How it was run."""
    outcome: Literal["short", "full", "flash"] | None
    """`"short"`, `"full"`, `"flash"` or `None`."""
    gauge_at_stop: bool
    """Whether the gauge stood at its stop: the true peak is at least `peak_pressure_kPa`."""
    remarks: str
    assumed: list[str]
    """What the ledger left out and was assumed, in words."""
    trace: Trace
    """What was logged over time; empty if nothing was."""

@final
class Run(_OutcomeValues, _InAnyUnit):
    """One simulated casting. Pressures are gauge; what did not happen is `None`; courses are arrays over `time_s`."""

    verdict: _Verdict
    """`"full"`, `"short"`, `"flash"` or `"soft"`."""
    phases: list[tuple[str, float]]
    """Each phase with the time (s) at which it began: `"open"`, `"rising"`, `"filled"`, `"set"`."""
    profile: dict[str, _Array] | None
    """Of foam in layers: the part as it gelled, from the wall to the middle, as arrays: `depth_mm`, `density_kg_m3`,
    `temp_C`, `blown`, `gelled`; `pandas.DataFrame(run.profile)` makes a frame of it. `None` of a lump.
    """
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

    def to_frame(self) -> pd.DataFrame:
        """The courses as a `pandas.DataFrame`, one time a row, with the phase."""

    def summary(self) -> dict[str, Any]:
        """The outcome under names with customary units."""

    def chart(
        self,
        *,
        title: str | None = None,
        trial: Trial | None = None,
        width: int = 900,
        height: int = 600,
        units: _Units = "metric",
    ) -> Chart:
        """Pressure, fill and temperature over time; with a trial, its trace as points, and about the pressure a band
        of what the model is believed to miss of it (one standard deviation).
        """

    def report(self, *, units: _Units = "metric") -> str:
        """The run in words and a table, in `"metric"` or `"us"` units."""

    def _repr_html_(self) -> str: ...

@final
class Sweep:
    """The plan of a sweep; arguments as in `sweep`. Nothing is cast until it is asked for: all by `run`, some by
    `block` or `blocks`, one by `simulate`. It pickles: any process can run any block, and gets the same bits.
    """

    shape: tuple[int, ...]
    """Lengths of the axes, the slowest first."""
    axes: dict[str, _Array]
    """The axes by their names as given, the slowest first; values in the unit of the name."""

    @overload
    def __new__(
        cls,
        grade: Grade,
        mold: Mold,
        casting: Casting | None = None,
        /,
        *,
        accuracy: float | None = None,
        layers: int | None = None,
        **settings: Unpack[_Axes],
    ) -> Self: ...
    @overload
    def __new__(
        cls,
        calibration: Calibration,
        casting: Casting | None = None,
        /,
        *,
        accuracy: float | None = None,
        layers: int | None = None,
        **settings: Unpack[_Axes],
    ) -> Self: ...
    @overload
    def __new__(
        cls,
        draws: Sequence[tuple[Grade, Mold]],
        casting: Casting | None = None,
        /,
        *,
        accuracy: float | None = None,
        layers: int | None = None,
        **settings: Unpack[_Axes],
    ) -> Self: ...
    def __len__(self) -> int: ...
    def run(self, *, threads: int | None = None, progress: _Progress = None) -> SweepResult:
        """Casts all points; `threads` and `progress` as in `sweep`."""

    def block(self, start: int, stop: int, *, threads: int | None = None) -> SweepResult:
        """Casts the points from `start` up to, not with, `stop`."""

    def blocks(self, size: int = 10000, *, threads: int | None = None) -> SweepBlocks:
        """Casts all points in order, `size` at a time: an iterator that keeps nothing of the blocks it gave."""

    def join(self, blocks: Sequence[SweepResult]) -> SweepResult:
        """One result from the blocks of all points, in any order."""

    def casting(self, index: int | Sequence[int]) -> Casting:
        """The settings of one point: its number, or its place on each axis."""

    def simulate(self, index: int | Sequence[int]) -> Run:
        """Simulates one point with its courses; for a refused point, raises what was wrong with it."""

    def reason(self, index: int | Sequence[int]) -> str | None:
        """Why one point was refused or failed; `None` where it was not."""

@final
class SweepBlocks(Iterator[SweepResult]):
    """The blocks of a sweep, cast one by one as they are asked for."""

    def __next__(self) -> SweepResult: ...

@final
class SweepResult(_OutcomeArrays, _InAnyUnit):
    """What a sweep, or a block of it, comes to. Quantities are arrays named and measured as in `Run`; where something
    did not happen they hold NaN. A whole sweep has arrays in the shape of its grid, a block has them in shape (n,).
    """

    sweep: Sweep
    """The plan that it is a result of: `result.sweep.reason(index)`, `result.sweep.simulate(index)`."""
    axes: dict[str, _Array]
    """The axes by their names as given, the slowest first; values in the unit of the name."""
    shape: tuple[int, ...]
    """The shape of its arrays."""
    start: int
    """Number of its first point."""
    stop: int
    """Number after its last point."""
    complete: bool
    """Whether every point was cast. Points that an interrupt left out have the verdict `"not run"` and NaN."""
    verdict: NDArray[np.str_]
    """An array of `"full"`, `"short"`, `"flash"`, `"soft"`, `"refused"` (cannot be cast so: `sweep.reason` says why),
    `"failed"` (the integration stopped) or `"not run"`.
    """

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
    ) -> Chart:
        """A map of one quantity over two axes, with the regions of each verdict outlined. `quantity`, `x` and `y` by
        name; without `x` and `y`, the last two axes with more than one value, the last one upward. `at` says where
        the map stands on the other axes: a place on every axis, counted from 0 (those on `x` and `y` do not
        matter); the first if not given.
        """

    def to_frame(self) -> pd.DataFrame:
        """A `pandas.DataFrame`, one casting a row: axes, quantities in customary units, verdict."""

@final
class FreeRise(_InAnyUnit):
    """A simulated free rise. Courses are arrays over `time_s`; `height_mm` is `None` without a cup."""

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

    def to_frame(self) -> pd.DataFrame:
        """The courses as a `pandas.DataFrame`, one time a row."""

@final
class Predicted:
    """A predicted quantity in one unit: value, doubt, scatter and 95 % interval."""

    unit: str
    """The unit, as names end in it."""
    value: float
    """Value at the best estimates."""
    doubt: float
    """Standard deviation from what the records leave in doubt."""
    scatter: float
    """Standard deviation from casting to casting."""
    standard_error: float
    """Standard deviation from both."""
    interval_95: tuple[float, float]
    """Lower and upper end of the 95 % interval for the next casting."""

    def __float__(self) -> float: ...

@final
class Prediction(_PredictedValues, _InAnyUnit):
    """A predicted casting. Every quantity has `value`, `doubt`, `scatter` and `interval_95` in the unit of its name;
    pressures are gauge.
    """

    run: Run
    """The casting at the best estimates."""
    casting: Casting
    """The settings that were predicted."""
    verdict: _Verdict
    """`"full"`, `"short"`, `"flash"` or `"soft"`, at the best estimates."""

    def to_frame(self) -> pd.DataFrame:
        """A `pandas.DataFrame`, one quantity a row, in customary units: `value`, `doubt`, `scatter`, `low_95`,
        `high_95`.
        """

    def chart(
        self,
        *,
        title: str | None = None,
        trial: Trial | None = None,
        width: int = 900,
        height: int = 600,
        units: _Units = "metric",
    ) -> Chart:
        """As `run.chart(...)`, with the 95 % interval of the peak as a bar and in numbers."""

    def report(self, *, units: _Units = "metric") -> str:
        """The prediction in words and a table, in `"metric"` or `"us"` units."""

    def _repr_html_(self) -> str: ...

@final
class Recommendation:
    """The charge and vent most likely to give a good part. `print` it for the reasons; `chart()` shows the process
    window. What follows is an estimate, no pressure-safety calculation: see the cautions in the report.
    """

    casting: Casting
    """The casting to run."""
    drill: str | None
    """The drill of its vents, as the shop calls it; `None` where the vents stay."""
    chance: float
    """Chance that it is full, without flash and within all limits, 0 to 1."""
    misses: dict[str, float]
    """Chance to miss each limit, 0 to 1."""
    runner_up: tuple[Casting, float] | None
    """The best setting with other vents: its casting and its chance; `None` if there is none."""
    vents_stay: bool
    """Whether the vents stay as they are."""
    binding: tuple[str, float] | None
    """The limit that keeps it from being better, and the chance without it; `None` if no single one does."""
    give_up: tuple[str, Casting, float] | None
    """Where no setting is good with at least 50 %: the limit to give up first, the casting to run then, and its
    chance.
    """
    warnings: list[str]
    """What keeps its chances from being believed: a calibration that did not converge."""

    def summary(self) -> dict[str, Any]:
        """The recommendation as a dict of plain Python values."""

    def to_frame(self, *, threads: int | None = None) -> pd.DataFrame:
        """Chances of charges (columns, g) and vents (rows) around it as a `pandas.DataFrame`."""

    def chart(
        self, *, width: int = 900, height: int = 600, units: _Units = "metric", threads: int | None = None
    ) -> Chart:
        """The process window: chances over charge and vent."""

    def report(self, *, units: _Units = "metric", threads: int | None = None) -> str:
        """The report with the table of the process window, in `"metric"` or `"us"` units."""

    def next_trial(self, *, has_gauge: bool = False, threads: int | None = None) -> NextTrial:
        """What to do next: the casting (with or without a gauge, unless `has_gauge`) after which the fewest more are
        expected until a part is good, and what a cup test or a water fill of the cavity would bring.
        """

    def _repr_html_(self) -> str: ...

@final
class NextTrial:
    """What to do next, best first."""

    casting: Casting | None
    """The casting to make."""
    with_gauge: bool
    """Whether a gauge on it is proposed."""
    chance: float
    """Chance that it is good."""
    chance_within_two: float
    """Chance that it or the one after it is good."""
    castings_expected: float
    """Castings expected until a part is good, this one included."""
    proposals: list[str]
    """All proposals in words, best first: castings, then what costs none."""

    def summary(self) -> dict[str, Any]:
        """The first proposal as a dict of plain Python values, with the doubt left by it as shares of what there is
        now.
        """

    def to_frame(self) -> pd.DataFrame:
        """The proposals as rows of a `pandas.DataFrame`: chances, and the doubt left as shares of what there is now."""

    def report(self, *, units: _Units = "metric") -> str:
        """The report, in `"metric"` or `"us"` units."""

    def _repr_html_(self) -> str: ...

@final
class Posterior:
    """Draws of what the records leave possible."""

    converged: bool
    """Whether the draws can be used."""
    verdict: str
    """Whether the chains agree, in words."""
    warnings: list[str]
    """What else the user should know, in words."""
    divergences: int
    """Trajectories that broke off, or proposals that cannot be simulated."""
    acceptance: float | None
    """Share of the proposals that were accepted; `None` if `direct`."""
    parameter_names: list[str]
    """Names of the parameters with their units and, for a record's own, the record."""
    draws: _Array
    """The draws in the units of `parameter_names`, shape (chains, draws, k)."""

    def to_frame(self) -> pd.DataFrame:
        """Every parameter as a row of a `pandas.DataFrame`, in the unit of its name."""

    def summary(self) -> dict[str, Any]:
        """The posterior as a dict of plain Python values."""

    def predict(
        self,
        casting: Casting | None = None,
        /,
        *,
        draws: int = 1000,
        threads: int | None = None,
        **settings: Unpack[_Settings],
    ) -> Outcomes:
        """Predicts a casting from at most `draws` of these draws; settings as in `Casting`. Only from a calibration's
        posterior.
        """

    def chart(self, *, width: int = 900, height: int = 600) -> Chart:
        """The prior of each shared parameter beside what is known now, in standard deviations of the prior."""

    def report(self) -> str:
        """The report: prior, what is known now, and whether the chains agree."""

    def _repr_html_(self) -> str: ...

@final
class Profile:
    """A parameter moved along, all others fitted anew at each place."""

    parameter: str
    """Name of the parameter with its unit."""
    value: float
    """Value at the best fit, in the unit of the name."""
    interval_95: tuple[float, float]
    """Limits of the 95 % interval, in the unit of the name."""
    open: tuple[bool, bool]
    """Whether each end is the end of what is allowed instead of what the records say."""
    values: _Array
    """Values tried, rising, in the unit of the name; shape (n,)."""
    rises: _Array
    """By how much half the sum of squares is above the best fit's at each; shape (n,). The interval ends at 1.92."""

    def summary(self) -> dict[str, Any]:
        """The profile as a dict of plain Python values."""

    def chart(self, *, width: int = 900, height: int = 600) -> Chart:
        """By how much the fit gets worse as the parameter is moved, and where its interval ends."""

    def report(self) -> str:
        """The report: the interval in a sentence, and the places tried."""

    def _repr_html_(self) -> str: ...

@final
class Outcomes(_DrawnArrays, _InAnyUnit):
    """The outcomes of one setting, one per draw of what is in doubt and of how castings scatter. Every quantity is an
    array of shape (draws,) in the unit of its name, NaN where a casting did not come to it; pressures are gauge.
    """

    casting: Casting
    """The settings that were cast."""
    count: int
    """How many draws were cast."""
    failures: list[tuple[int, str]]
    """What kept draws from being cast: pairs of the draw's number and the reason."""

    def probabilities(self, **limits: Unpack[_Limits]) -> dict[str, float]:
        """How likely the casting is full, without flash, and within limits given as pairs: `density_kg_m3=(94, 100)`,
        `peak_pressure_kPa=(20, 80)` (gauge). A dict with `full`, `no_flash`, `density`, `peak_pressure` and `all`,
        each from 0 to 1, among the draws that could be cast. Raises `ArgumentError`.
        """

    def to_frame(self) -> pd.DataFrame:
        """A `pandas.DataFrame`, one quantity a row, in customary units: `median`, `mean`, the 90 % and 95 % interval
        of the next casting, and the 90 % intervals from `doubt` alone and from `scatter` alone.
        """

@final
class FreeRiseFit:
    """A grade fitted to cup tests."""

    grade: Grade
    """The fitted grade."""
    converged: bool
    """Whether the optimizer converged and its starts agree; no judgment of whether the records can be believed."""
    warnings: list[str]
    """What the user should know, in words."""
    agreeing_starts: tuple[int, int]
    """Starts that ended in the answer, and how many there were."""
    correlation: _Array
    """Correlation of the shared parameters, shape (k, k), in the order of `parameter_names`."""
    parameter_names: list[str]
    """Names of the shared parameters with their units."""
    estimates: Estimates
    """Every parameter with its error and status: first the shared ones, then each log's own."""
    logs: FittedLogs
    """Each log with its fitted curve."""

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
    ) -> Posterior:
        """Draws from the posterior: what the records leave possible, beyond the normal distribution around the best
        fit.

        `draws` are kept of each of `chains` chains after `warmup`; the same `seed` gives the same draws on however
        many `threads` (`None`: one per core). `progress(done, total)` is called meanwhile. `direct` walks along the
        simulations' own slopes (no-U-turn sampler) instead of letting polynomials propose: many times slower, a
        check. Ctrl-C stops it. Raises `FitError`, `ArgumentError`.
        """

    def profile(self, parameter: str, *, threads: int | None = None) -> Profile:
        """Moves a shared parameter, all others fitted anew at each place, until the fit gets worse than the records
        allow: an interval that need not be symmetric. `parameter` is a name as in `parameter_names`. Ctrl-C stops
        it. Raises `ArgumentError` for a parameter that was not fitted, `FitError`. `threads` (`None`: one for each
        core) changes no bit, as everywhere.
        """

    def report(self, *, units: _Units = "metric") -> str:
        """The report, in `"metric"` or `"us"` units."""

    def summary(self) -> dict[str, Any]:
        """The fit as a dict of plain Python values."""

    def chart(
        self, *, title: str | None = None, width: int = 900, height: int = 600, units: _Units = "metric"
    ) -> Chart:
        """All logs with their fitted curves."""

    def _repr_html_(self) -> str: ...

@final
class QuickCurve(_InAnyUnit):
    """A plain curve through one log. The curve is an array over `time_s`: `height_mm`, or `volume_mL` for a log of
    volumes.
    """

    log: str
    """The log's name."""
    kind: _CurveKind
    """`"richards"` or `"delayed_first_order"`."""
    converged: bool
    """Whether the optimizer converged; no judgment of whether the readings can be believed."""
    warnings: list[str]
    """What the user should know, in words."""
    parameters: dict[str, dict[str, Any]]
    """Each parameter: `value`, `standard_error` (infinite where the log does not tell it, nan at a bound) and
    `status`. `base` and `rise` are in mm or mL.
    """
    cream_time_s: float | None
    steepest_s: float
    end_of_rise_s: float
    time_s: _Array
    height_mm: _Array
    volume_mL: _Array

@final
class Calibration:
    """A mold and a grade calibrated to castings."""

    grade: Grade
    """The grade, as the castings leave it."""
    mold: Mold
    """The mold, as the castings leave it. Vents given as settings of a casting are corrected in `simulate` and
    `predict`.
    """
    misfit_ratio: float
    """Ratio of the castings' misfit to what their scatter is believed to allow."""
    casting_scatter_factor: float
    """How much more than believed castings scatter in what is weighed and read, as these castings leave it; intervals
    count with that.
    """
    lot_scatter_factor: float
    """The same of what makes castings differ: lots, mix and wall temperatures, charges."""
    converged: bool
    """Whether the optimizer converged and its starts agree; no judgment of whether the records can be believed."""
    warnings: list[str]
    """What the user should know, in words."""
    agreeing_starts: tuple[int, int]
    """Starts that ended in the answer, and how many there were."""
    estimates: Estimates
    """Every parameter with its error and status: first the shared ones, then each casting's own."""
    castings: FittedCastings
    """Each casting with what would have been predicted."""

    def report(self, *, units: _Units = "metric") -> str:
        """The report, in `"metric"` or `"us"` units."""

    def summary(self) -> dict[str, Any]:
        """The calibration as a dict of plain Python values."""

    def simulate(self, casting: Casting | None = None, /, **settings: Unpack[_Settings]) -> Run:
        """Simulates a casting at the best estimates, without intervals; settings as in `Casting`."""

    def predict(self, casting: Casting | None = None, /, **settings: Unpack[_Settings]) -> Prediction:
        """Predicts a casting with intervals; settings as in `Casting`."""

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
    ) -> Posterior:
        """Draws from the posterior: what the records leave possible, sampled instead of fitted draw by draw.

        `draws` are kept of each of `chains` chains after `warmup`; the same `seed` gives the same draws on however
        many `threads` (`None`: one per core). `progress(done, total)` is called meanwhile. `direct` walks along the
        simulations' own slopes (no-U-turn sampler) instead of letting polynomials propose: many times slower, a
        check. Ctrl-C stops it. Raises `FitError`, `ArgumentError`.
        """

    def profile(self, parameter: str, *, threads: int | None = None) -> Profile:
        """Moves a shared parameter, all others fitted anew at each place, until the fit gets worse than the records
        allow: an interval that need not be symmetric. `parameter` is a name as in `estimates`. Ctrl-C stops it.
        Raises `ArgumentError` for a parameter that was not fitted, `FitError`. `threads` (`None`: one for each
        core) changes no bit, as everywhere.
        """

    def outcomes(
        self,
        casting: Casting | None = None,
        /,
        *,
        draws: int = 1000,
        seed: int = 1,
        threads: int | None = None,
        **settings: Unpack[_Settings],
    ) -> Outcomes:
        """Casts these settings with `draws` draws of what is in doubt (fits of disturbed readings) and of how castings
        scatter; settings as in `Casting`. The same `seed` gives the same draws, for all settings: outcomes compare
        draw by draw.
        """

    def recommend(
        self,
        casting: Casting | None = None,
        /,
        *,
        draws: int = 400,
        seed: int = 1,
        threads: int | None = None,
        **asked: Unpack[_Asked],
    ) -> Recommendation:
        """The charge and vent most likely to give a good part: full, without flash, `target_density_kg_m3` within
        `tolerance_percent` (3), and, if given, a peak gauge pressure within `pressure_kPa=(floor, ceiling)`.

        `drills_mm=[3, 3.5]` or `drills=["1/8", "#30"]` are the drills the shop owns (if not given: 1 to 12 mm in
        steps of 0.5; `[]`: none), `vent_mm` the vents as they are (if not given: the mold's), which stay unless
        others gain something. `charges_g=(low, high)` and `charge_step_g` limit what is poured. Other settings as
        in `Casting`; its charge and vents are what is asked for. Raises `CastingError`, `ArgumentError`.
        """

    def next_trial(
        self,
        casting: Casting | None = None,
        /,
        *,
        has_gauge: bool | None = None,
        draws: int = 400,
        seed: int = 1,
        threads: int | None = None,
        **asked: Unpack[_Asked],
    ) -> NextTrial:
        """What to do next: as `recommend(...).next_trial(has_gauge=...)`. If not given, the mold has a gauge if a
        casting was read.
        """

    def diagnose(
        self, *, odds: Mapping[str, float] | None = None, odd_below: float = 0.01, threads: int | None = None
    ) -> Diagnosis:
        """Compares each casting with what the others predict for it, and weighs what may have happened to one that
        does not fit.

        `odds` says how often causes happen in this shop, of 100 castings: `{"leak": 10, "late_closing": 0}`; the
        other causes keep their usual odds (`Diagnosis.prior` shows them). A casting is odd if fewer than the share
        `odd_below` of castings would be as far off; at 1, causes are weighed for all. Ctrl-C stops it; `threads` as
        in `profile`. Raises `ArgumentError`, `FitError`.
        """

    def chart(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> Chart:
        """Predicted against weighed part mass and measured peak pressure, with intervals."""

    def _repr_html_(self) -> str: ...

@final
class Diagnosis:
    """How the castings of a calibration fit each other, and what most likely happened to one that does not."""

    odd: list[str]
    """Names of the castings that do not fit the others."""
    warnings: list[str]
    """What the user should know, in words."""
    prior: dict[str, float]
    """The prior probability of each cause."""
    castings: list[dict[str, Any]]
    """Each casting as a dict of plain Python values: `trial`, `odd`, `probability` (that a casting is as far off),
    `readings` (measured, predicted, sd in customary units; deviations), `causes` (likeliest first: probability and
    effects with their 90 % intervals) and `separation` (what would separate the first two).
    """

    def to_frame(self) -> pd.DataFrame:
        """A `pandas.DataFrame`, one casting a row: standard deviations of each reading from what the others predict
        (NaN: not taken), the probability of being as far off, whether it is odd (1) and the probability of each
        cause (NaN: the casting fits).
        """

    def summary(self) -> dict[str, Any]:
        """The diagnosis as a dict of plain Python values."""

    def chart(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> Chart:
        """How far each reading is from what the others predict, in standard deviations."""

    def report(self, *, units: _Units = "metric") -> str:
        """The report, in `"metric"` or `"us"` units."""

    def _repr_html_(self) -> str: ...

@final
class Chart:
    """A chart: shown by notebooks, saved as an SVG file."""

    svg: str
    """The SVG document."""

    def save(self, path: _Path) -> None:
        """Writes the SVG document to a file."""

    def _repr_svg_(self) -> str: ...

@final
class Estimate:
    """A fitted parameter, in the unit of its name."""

    name: str
    """Name with its unit and, for a record's own, the record."""
    record: str | None
    """The log or trial that it belongs to; `None` for what all records share."""
    unit: str
    """The unit in words; empty for a plain number."""
    value: float
    """Fitted value."""
    standard_error: float
    """Standard error of the value."""
    interval_95: tuple[float, float]
    """Limits of the 95 % interval."""
    prior_95: tuple[float, float]
    """Limits of what was expected with 95 % before any record."""
    status: str
    """What the records say of it, in words."""

@final
class Estimates:
    """The fitted parameters: first those that all records share, then each record's own. Rows by number or by name."""

    def __len__(self) -> int: ...
    def __getitem__(self, index: int | str, /) -> Estimate: ...
    def __iter__(self) -> Iterator[Estimate]: ...
    def to_frame(self) -> pd.DataFrame:
        """A `pandas.DataFrame`, one parameter a row, in the unit of its name: value, standard error, 95 % interval,
        what was expected before, unit, status.
        """

@final
class FittedLog:
    """A log of a fit: its readings and the fitted curve."""

    name: str
    """The log's name."""
    log: RiseLog
    """The log."""

    def to_frame(self) -> pd.DataFrame:
        """A `pandas.DataFrame`, one time a row: what was read, and the fitted curve beside it."""

    def chart(self, *, width: int = 900, height: int = 600, units: _Units = "metric") -> Chart:
        """The log with its fitted curve, residuals and stopwatch times."""

@final
class FittedLogs:
    """The logs of a fit. Rows by number or by the log's name."""

    def __len__(self) -> int: ...
    def __getitem__(self, index: int | str, /) -> FittedLog: ...
    def __iter__(self) -> Iterator[FittedLog]: ...
    def to_frame(self) -> pd.DataFrame:
        """A `pandas.DataFrame`, one log a row: stopwatch times as read and as fitted (nan where there is none)."""

@final
class FittedCasting:
    """A casting of a calibration: its trial, and what the model says to it."""

    name: str
    """The trial's name."""
    trial: Trial
    """The trial."""
    predicted: dict[str, float]
    """What would have been predicted of what can be weighed and read, under names with customary units."""
    worst_misfit_sd: float
    """Largest misfit of a weighing or reading, in standard deviations."""
    odd: bool
    """Whether it does not fit the others."""

@final
class FittedCastings:
    """The castings of a calibration. Rows by number or by the trial's name."""

    def __len__(self) -> int: ...
    def __getitem__(self, index: int | str, /) -> FittedCasting: ...
    def __iter__(self) -> Iterator[FittedCasting]: ...
    def to_frame(self) -> pd.DataFrame:
        """A `pandas.DataFrame`, one casting a row: what was weighed and read, what would have been predicted."""

@final
class Trace(_InAnyUnit):
    """A trace: arrays over `time_s` (`pressure_kPa`, gauge, and `temp_C`; `None` where it was not logged). Rows by
    number are dicts of one time each; by name, as attributes are.
    """

    time_s: _Array | None
    pressure_kPa: _Array | None
    temp_C: _Array | None

    def __len__(self) -> int: ...
    @overload
    def __getitem__(self, index: int, /) -> dict[str, float]: ...
    @overload
    def __getitem__(self, index: str, /) -> _Array | None: ...
    def __iter__(self) -> Iterator[dict[str, float]]: ...
    def to_frame(self) -> pd.DataFrame:
        """The trace as a `pandas.DataFrame`, one time a row."""
