"""A plan on screen: amounts, steps, times and warnings, every number with its unit.

Only words and layout live here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.cli.screen import console, print_lines, table
from controller.record.words import duration, litres, millilitres

if TYPE_CHECKING:
    from controller.plan.steps import Plan, PlannedAddition


def show_plan(plan: Plan) -> None:
    """Print the whole plan, the warnings last, where the eye ends."""
    out = console()
    print_lines(out, [f"{plan.title} ({plan.recipe})"])
    out.print(table("Tank", ("what", "value"), tank_rows(plan)))
    additions = plan.additions
    amounts, dosing = [amount_row(one) for one in additions], [dosing_row(one) for one in additions]
    if additions:
        amount_columns = ("input", "amount", "rate as read")
        out.print(table("Amounts, in the order of dosing", amount_columns, amounts, numbers=(1,)))
        dosing_columns = ("input", "pump", "speed", "limited by", "agitate", "rinses", "mix")
        out.print(table("Dosing", dosing_columns, dosing, numbers=(2, 4, 5, 6)))
    else:
        print_lines(out, ["No additions."])
    out.print(
        table("Steps", ("no.", "starts at", "step", "what", "takes"), step_rows(plan), numbers=(0, 1, 4))
    )
    print_lines(out, warning_lines(plan))


def tank_rows(plan: Plan) -> list[tuple[str, str]]:
    """Give the rows about the whole tank: its volume is the sum of the five below it."""
    additions_l = sum(addition.ml for addition in plan.additions) / 1000
    return [
        ("final volume", litres(plan.final_l)),
        ("  heel", litres(plan.heel_l)),
        ("  water", litres(plan.water_l)),
        ("  rinse water", litres(plan.rinse_l)),
        ("  additions", litres(additions_l)),
        ("  room for pH trims", litres(plan.reserve_l)),
        ("pH window", f"pH {plan.ph_low:g} to {plan.ph_high:g}"),
        ("duration to release, without trims", duration(plan.duration_s)),
        ("floor (shortest possible)", duration(plan.floor_s)),
    ]


def amount_row(addition: PlannedAddition) -> tuple[str, ...]:
    """Give one addition's amount; the rate is shown as written with the convention it was read by."""
    return (addition.title, millilitres(addition.ml), addition.rate_text)


def dosing_row(addition: PlannedAddition) -> tuple[str, ...]:
    """Give how one addition is dosed."""
    return (
        addition.title,
        addition.pump,
        f"{addition.dose_ml_min:.0f} mL/min",
        addition.pace_limit,
        duration(addition.agitate_s) if addition.agitate_s > 0 else "no",
        f"{addition.rinses} x {addition.rinse_ml:g} mL",
        duration(addition.mix_s),
    )


def step_rows(plan: Plan) -> list[tuple[str, ...]]:
    """Give the steps in order, each with its start counted from the beginning of the batch."""
    rows: list[tuple[str, ...]] = []
    start_s = 0.0
    for number, step in enumerate(plan.steps, 1):
        rows.append((str(number), duration(start_s), step.kind.value, step.title, duration(step.expected_s)))
        start_s += step.expected_s
    return rows


def warning_lines(plan: Plan) -> list[str]:
    """Give a line for each warning, or one that says there are none."""
    return [f"Warning ({warning.rule}): {warning.text}" for warning in plan.warnings] or ["Warnings: none"]
