//! Where one regime of a casting ends: the functions that rise through zero there, and how fast.

use crate::numerics::Scalar;
use crate::physics::casting::equations::layout::{Shared, State};
use crate::physics::casting::equations::parting_line::ClampedLine;
use crate::physics::casting::equations::{CavityState, Equations};
use crate::physics::gas::{SPECIES, Source};
use crate::physics::kinetics::{BLOW, GEL, unblown};
use crate::physics::layers::sum_over;
use crate::physics::properties::GAS_CONSTANT;

/// An event that ends one regime and begins another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event<S> {
    /// This gas has saturated the liquid of this layer: with the first of CO2, the rise begins.
    Saturated(usize, usize),
    /// Rising pressure dissolved the last of this gas that was free in this layer.
    Unsaturated(usize, usize),
    /// The front has reached the openings at this fill fraction.
    Front(S),
    /// The pressure exceeds the clamp.
    ClampOpens,
    /// The clamp holds again.
    ClampHolds,
    /// The leak opens at this gauge pressure, Pa.
    LeakOpens(S),
    /// The foam stops flowing.
    Gel,
}

/// Collects the events that can end the present regime.
pub fn collect_events<S: Scalar>(equations: &Equations<S>, layers: usize, events: &mut Vec<Event<S>>) {
    let regime = &equations.regime;
    events.clear();
    if !regime.gelled {
        events.push(Event::Gel);
    }
    for (layer, saturated) in regime.saturated.iter().enumerate().take(layers) {
        for (gas, _) in SPECIES.iter().enumerate().filter(|(_, species)| species.dissolves) {
            let event = if saturated[gas] { Event::Unsaturated } else { Event::Saturated };
            events.push(event(gas, layer));
        }
    }
    if regime.open {
        return;
    }
    if let (true, false, Some(fill)) = (regime.headspace, regime.gelled, equations.next_front()) {
        events.push(Event::Front(fill));
    }
    // Set foam that fills the cavity does not leave: whether the clamp holds again makes no difference.
    let matters = !(regime.clamp_open && regime.gelled && !regime.headspace);
    if matters && equations.parting_line.as_ref().is_some_and(|p| p.clamp.is_some()) {
        events.push(if regime.clamp_open { Event::ClampHolds } else { Event::ClampOpens });
    }
    if let (Some(_), Some(gauge)) = (regime.closed_leak, regime.leak_opens_at) {
        events.push(Event::LeakOpens(S::constant(gauge)));
    }
}

impl<S: Scalar> Event<S> {
    /// The function of the event, of order one, at a state of the casting.
    pub fn function<const N: usize>(self, of: &Equations<S>, y: &State<S, N>, now: &CavityState<S, N>) -> S {
        match self {
            Event::Gel => of.mean_gelled(y) - of.foam.gel_conversion,
            Event::Saturated(gas, layer) => saturation(of, gas, layer, now),
            Event::Unsaturated(gas, layer) => -saturation(of, gas, layer, now),
            Event::Front(fill) => now.fill() - fill,
            Event::ClampOpens => clamp_excess(of, now),
            Event::ClampHolds => -clamp_excess(of, now),
            Event::LeakOpens(gauge) => (now.pressure - of.cavity.ambient - gauge) / of.cavity.ambient,
        }
    }

    /// The same as if the foam expanded freely at ambient pressure; `None` for what the pressure itself decides.
    pub fn function_at_ambient<const N: usize>(self, of: &Equations<S>, y: &State<S, N>) -> Option<S> {
        match self {
            Event::Front(fill) => Some(of.fill_at_ambient(y) - fill),
            Event::Saturated(gas, layer) => {
                let blown = S::one() - unblown(y.nodes[layer][BLOW]);
                Some(of.gases.excess(gas, blown, of.cavity.ambient) / of.gases.amounts[gas].total)
            }
            _ => None,
        }
    }

    /// How fast that function rises, given how fast the state and the pressure (Pa/s) do.
    pub fn speed<const N: usize>(
        self,
        of: &Equations<S>,
        y: &State<S, N>,
        rate: &State<S, N>,
        now: &CavityState<S, N>,
        climb: f64,
    ) -> f64 {
        let clamp = || of.parting_line.as_ref().map_or(0.0, |p| climb * p.area.value() / clamp_scale(p));
        match self {
            Event::Gel => sum_over::<N, S>(|i| rate.nodes[i][GEL] * of.mean_gelled_by(y, i)).value(),
            Event::Saturated(gas, layer) => saturation_speed(of, gas, layer, rate, now, climb),
            Event::Unsaturated(gas, layer) => -saturation_speed(of, gas, layer, rate, now, climb),
            Event::Front(_) => fill_speed(of, rate, now, climb),
            Event::ClampOpens => clamp(),
            Event::ClampHolds => -clamp(),
            Event::LeakOpens(_) => climb / of.cavity.ambient.value(),
        }
    }
}

/// What there is of a gas beyond saturation, as a share of all that its source gives.
fn saturation<S: Scalar, const N: usize>(of: &Equations<S>, gas: usize, layer: usize, now: &CavityState<S, N>) -> S {
    of.gases.excess(gas, S::one() - now.unblown[layer], now.pressure) / of.gases.amounts[gas].total
}

fn saturation_speed<S: Scalar, const N: usize>(
    of: &Equations<S>,
    gas: usize,
    layer: usize,
    rate: &State<S, N>,
    now: &CavityState<S, N>,
    climb: f64,
) -> f64 {
    let made = match SPECIES[gas].source {
        Source::Blowing => (rate.nodes[layer][BLOW] * now.unblown[layer]).value(),
        Source::Mixing => 0.0,
    };
    let amount = &of.gases.amounts[gas];
    made - amount.henry.value() * climb / amount.total.value()
}

/// Whether the liquid holds all of a gas again that was free.
pub fn dissolves_again<S: Scalar, const N: usize>(of: &Equations<S>, now: &CavityState<S, N>) -> bool {
    let again =
        |gas: usize, layer: usize| of.regime.saturated[layer][gas] && saturation(of, gas, layer, now).value() < 0.0;
    (0..N).any(|layer| SPECIES.iter().enumerate().any(|(gas, species)| species.dissolves && again(gas, layer)))
}

fn clamp_excess<S: Scalar, const N: usize>(of: &Equations<S>, now: &CavityState<S, N>) -> S {
    let Some(ClampedLine { clamp: Some(clamp), area, .. }) = of.parting_line else { return S::constant(-1.0) };
    let push = (now.pressure - of.cavity.ambient) * area;
    (push - clamp) / clamp.value().max(1.0)
}

fn clamp_scale<S: Scalar>(parting: &ClampedLine<S>) -> f64 {
    parting.clamp.map_or(1.0, |c| c.value().max(1.0))
}

/// d fill / dt.
fn fill_speed<S: Scalar, const N: usize>(
    of: &Equations<S>,
    rate: &State<S, N>,
    now: &CavityState<S, N>,
    climb: f64,
) -> f64 {
    let (p, v, h) = (now.pressure.value(), now.cavity.value(), now.headspace.value());
    let cavity = &of.cavity;
    let by_air = cavity.headspace_temp.value() * GAS_CONSTANT / p * rate[Shared::HeadspaceAir].value();
    let growth = cavity.volume.value() * cavity.stretch.value() * climb;
    -(by_air - h * climb / p) / v + h / (v * v) * growth
}
