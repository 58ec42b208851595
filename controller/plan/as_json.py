"""A plan, or a card, as plain data for JSON, with the unit in the key. Others rely on these names."""

from __future__ import annotations

from dataclasses import fields
from enum import Enum

from controller.plan.card import Card
from controller.plan.steps import AnyStep, Plan, PlannedAddition


def plan_as_json(plan: Plan) -> dict[str, object]:
    """Return the plan as dicts, lists, strings, numbers and None."""
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


def card_as_json(card: Card) -> dict[str, object]:
    """Return the card for mixing by hand as plain data."""
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
