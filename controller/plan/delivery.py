"""A plan of its own for an amount that goes into a vessel beside the tank: one step, no night.

For calibrating, priming and flushing a pump. How the vessel is filled is the step's phase; why, whoever asks.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.plan.dose_caps import dose_cap_ml
from controller.plan.findings import PlanRefused, Refusal, Rule
from controller.plan.steps import Deliver, Plan, Purpose, StepKind
from controller.plan.stock import is_agitated
from controller.plan.times import dose_rate_ml_min, pumped_s
from controller.plan.words import plain_ml
from controller.settings.values import Input, Pump, Site

WATER = "water"
_VERB = {Purpose.CALIBRATION: "Deliver", Purpose.PRIME: "Prime with", Purpose.FLUSH: "Flush with"}


@dataclass(frozen=True, slots=True)
class Delivery:
    """What is wanted: `ml` through one pump, by its present setting; `liquid` None: it draws water."""

    pump: Pump
    ml: float
    purpose: Purpose
    liquid: Input | None = None


def input_of(site: Site, pump: Pump) -> Input | None:
    """Give the input that a pump draws from; None for the rinse pump, which draws water."""
    return next((liquid for liquid in site.inputs.values() if liquid.pump == pump.name), None)


def delivery_rate_ml_min(site: Site, pump: Pump) -> float:
    """Give the rate at which the pump doses in a night, mL/min: a pump is calibrated as it is used."""
    liquid = input_of(site, pump)
    return pump.max_ml_min if liquid is None else dose_rate_ml_min(site, liquid, pump)


def delivery_plan(site: Site, wanted: Delivery) -> Plan:
    """Make the plan of one delivery. Raises PlanRefused when it is below or above what one dose may be."""
    _judge(site, wanted)
    step = _step(site, wanted)
    return Plan(
        recipe=f"{wanted.purpose.value}: {wanted.pump.name}",
        title=f"{wanted.purpose.value.capitalize()} of {wanted.pump.name}",
        final_l=0.0,
        heel_l=0.0,
        water_l=0.0,
        rinse_l=0.0,
        reserve_l=0.0,
        additions=(),
        steps=(step,),
        duration_s=step.expected_s,
        floor_s=step.expected_s,
        ph_low=0.0,
        ph_high=14.0,
        warnings=(),
    )


def _step(site: Site, wanted: Delivery) -> Deliver:
    pump, liquid = wanted.pump, wanted.liquid
    rate_ml_min = delivery_rate_ml_min(site, pump)
    stirred = liquid if liquid is not None and is_agitated(liquid) else None
    agitate_s = 0.0 if stirred is None else stirred.agitate_s
    name = WATER if liquid is None else liquid.title
    return Deliver(
        kind=StepKind.DELIVER,
        title=f"{_VERB[wanted.purpose]} {plain_ml(wanted.ml)} of {name} beside the tank",
        expected_s=agitate_s + pumped_s(wanted.ml, rate_ml_min),
        input=WATER if liquid is None else liquid.name,
        pump=pump.name,
        agitator=None if stirred is None else stirred.agitator,
        agitate_s=agitate_s,
        target_ml=wanted.ml,
        rate_ml_min=rate_ml_min,
        purpose=wanted.purpose,
    )


def _judge(site: Site, wanted: Delivery) -> None:
    """Refuse what the board, or the metering, would refuse in the middle of the motion."""
    pump, least_ml, most_ml = wanted.pump, wanted.pump.min_dose_ml, dose_cap_ml(site, wanted.pump)
    if wanted.ml < least_ml:
        remedy = f"{pump.name} meters {plain_ml(least_ml)} and more"
        raise PlanRefused((Refusal(Rule.SMALLEST_DOSE, pump.name, plain_ml(wanted.ml), remedy),))
    if wanted.ml > most_ml:
        remedy = f"the board lets {pump.name} move {plain_ml(most_ml)} at once: ask for less"
        raise PlanRefused((Refusal(Rule.DOSE_CAP, pump.name, plain_ml(wanted.ml), remedy),))
