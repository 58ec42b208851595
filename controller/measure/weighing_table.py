"""Weighings as a table in a text: its columns, its example, and what is wrong with its lines.

Reading the file is the command's; what the weights say is `bench_weighings.py` and `pump_calibration.py`.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Sequence

from controller.measure.weighed_delivery import Slip, WeighedDelivery, WeighingsRefused
from controller.settings.faults import Refused

WANTED = ("counts", "grams")
KNOWN = (*WANTED, "liquid_c", "note")
COLUMNS = (
    "counts: how many counts the pump was told to turn; grams: net weight of that delivery; liquid_c "
    "(may be left out): temperature of the liquid in °C; note (may be left out): any text"
)
EXAMPLE = """\
# One line a delivery, in the order of weighing; lines that begin with # are left out.
# counts: what the pump was told to turn. grams: the net weight, balance tared before each delivery.
counts,grams,liquid_c,note
96,4.79,20.5,
96,4.81,20.5,
96,4.80,20.5,
96,4.78,20.5,
96,4.80,20.5,drop touched off
400,19.98,20.5,
400,20.03,20.5,
400,20.01,20.5,
400,19.96,20.5,
400,20.02,20.5,
800,40.05,20.6,
800,39.97,20.6,
800,40.02,20.6,
800,39.94,20.6,
800,40.03,20.6,
"""
_UNIT = re.compile(r"[-+]?[0-9.,]+\s*[a-zµ]+", re.IGNORECASE)


def read_table(text: str, place: str) -> tuple[WeighedDelivery, ...]:
    """Read the deliveries of a table; raises WeighingsRefused with every line that cannot be read."""
    lines = [
        (number, line)
        for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise WeighingsRefused(place, [Slip(0, "it holds no weighings", f"write {', '.join(WANTED)}")])
    head_line, head = lines[0]
    divider = ";" if ";" in head and "," not in head else ","
    names = [name.strip().lower() for name in head.split(divider)]
    wrong = _head_slips(head_line, names)
    if wrong:
        raise WeighingsRefused(place, wrong)
    found: list[WeighedDelivery] = []
    slips: list[Slip] = []
    for number, line in lines[1:]:
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=divider))]
        try:
            found.append(_delivery(number, names, cells))
        except Refused as refused:
            slips.append(Slip(number, refused.problem, refused.remedy))
    if slips:
        raise WeighingsRefused(place, slips)
    return tuple(found)


def _head_slips(line: int, names: Sequence[str]) -> list[Slip]:
    remedy = f"the first line names the columns; {COLUMNS}"
    lacking = [name for name in WANTED if name not in names]
    unknown = [name for name in names if name not in KNOWN]
    if lacking:
        return [Slip(line, f"there is no column {' and no column '.join(lacking)}", remedy)]
    if unknown:
        return [Slip(line, f"unknown column {', '.join(unknown)}", remedy)]
    if len(set(names)) < len(names):
        return [Slip(line, "a column stands there twice", remedy)]
    return []


def _delivery(line: int, names: Sequence[str], cells: Sequence[str]) -> WeighedDelivery:
    if len(cells) > len(names):
        problem = f"{len(cells)} entries for {len(names)} columns"
        raise Refused(problem, "write a point for decimals, and a text with a comma in quotes")
    row = dict(zip(names, cells, strict=False))
    counts = number_in("counts", row.get("counts", ""))
    grams = number_in("grams", row.get("grams", ""))
    warm = number_in("liquid_c", row["liquid_c"]) if row.get("liquid_c") else None
    if counts != math.floor(counts) or counts < 1:
        raise Refused(f"counts = {row['counts']}", "write a whole number of counts, 1 or more")
    if warm is not None and not 1.0 <= warm <= 40.0:
        raise Refused(f"liquid_c = {row['liquid_c']}", "write the liquid's temperature in °C, 1 to 40")
    return WeighedDelivery(line, int(counts), grams, warm, row["grams"])


def number_in(name: str, text: str) -> float:
    """Read one plain number as a person writes it; raises Refused that says what it is instead."""
    if not text:
        raise Refused(f"{name} is empty", "write the number, or take the line out")
    if _UNIT.fullmatch(text):
        raise Refused(f"{name} = {text}", "write the number alone, without a unit")
    if re.fullmatch(r"[-+]?[0-9]+,[0-9]+", text):
        raise Refused(f"{name} = {text}", "write a point for decimals")
    if not re.fullmatch(r"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)", text):
        raise Refused(f"{name} = {text} is no number", "write digits and at most one point")
    return float(text)
