"""A plan, or a card, as plain data for JSON, with the unit in the key. Others rely on these names.

Numbers are rounded here, by the unit of their key, to what a tank can tell apart; a Plan itself is exact.
"""

from __future__ import annotations

from dataclasses import fields
from enum import Enum

from controller.plan.card import Card
from controller.plan.steps import AnyStep, Plan, PlannedAddition

# Decimals by the end of a key; a pH has no unit and stands at the beginning of one.
DECIMALS = {"_ml": 3, "_ml_l": 6, "_ml_min": 3, "_l": 6, "_s": 3, "_c": 3}
PH_DECIMALS = 3


def plan_as_json(plan: Plan) -> dict[str, object]:
    """Return the plan as dicts, lists, strings, numbers and None; numbers are rounded."""
    return _rounded(_plan(plan))


def card_as_json(card: Card) -> dict[str, object]:
    """Return the card for mixing by hand as plain data; numbers are rounded."""
    return _rounded(_card(card))


def _rounded(row: dict[str, object]) -> dict[str, object]:
    return {key: _rounded_value(key, value) for key, value in row.items()}


def _rounded_value(key: str, value: object) -> object:
    if isinstance(value, dict):
        return _rounded(value)
    if isinstance(value, list):
        return [_rounded_value(key, part) for part in value]
    decimals = _decimals(key)
    return round(value, decimals) if isinstance(value, float) and decimals is not None else value


def _decimals(key: str) -> int | None:
    if key.startswith(("ph_", "stable_ph")):
        return PH_DECIMALS
    ends = [end for end in DECIMALS if f"_{key}".endswith(end)]
    return DECIMALS[max(ends, key=len)] if ends else None


def _plan(plan: Plan) -> dict[str, object]:
    return {
        "recipe": plan.recipe,
        "title": plan.title,
        "volume_l": plan.final_l,
        "heel_l": plan.heel_l,
        "water_l": plan.water_l,
        "rinse_l": plan.rinse_l,
        "trim_reserve_l": plan.reserve_l,
        "ph_low": plan.ph_low,
        "ph_high": plan.ph_high,
        "additions": [_addition(addition) for addition in plan.additions],
        "steps": [_step(step) for step in plan.steps],
        "duration_s": plan.duration_s,
        "floor_s": plan.floor_s,
        "warnings": [{"rule": str(warning.rule), "text": warning.text} for warning in plan.warnings],
    }


def _addition(addition: PlannedAddition) -> dict[str, object]:
    return {
        "input": addition.input,
        "title": addition.title,
        "ml": addition.ml,
        "rate": addition.rate_text,
        "rate_ml_l": addition.rate_ml_l,
        "pump": addition.pump,
        "dose_ml_min": addition.dose_ml_min,
        "pace_limit": addition.pace_limit,
        "rinses": addition.rinses,
        "rinse_ml": addition.rinse_ml,
        "agitate_s": addition.agitate_s,
        "mix_s": addition.mix_s,
        "living": addition.living,
    }


def _step(step: AnyStep) -> dict[str, object]:
    row: dict[str, object] = {}
    for field in fields(step):
        value = getattr(step, field.name)
        row[field.name] = value.value if isinstance(value, Enum) else value
    return row


def _card(card: Card) -> dict[str, object]:
    return {
        "recipe": card.recipe,
        "title": card.title,
        "volume_l": card.volume_l,
        "vessel_ml": card.vessel_ml,
        "lines": [
            {
                "act": line.act.value,
                "input": line.input,
                "input_ml": line.input_ml,
                "water_ml": line.water_ml,
                "pours_ml": list(line.pours_ml),
                "text": line.text,
            }
            for line in card.lines
        ],
        "warnings": [{"rule": str(warning.rule), "text": warning.text} for warning in card.warnings],
    }
