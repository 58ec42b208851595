"""What earlier batches of the same recipe taught about its trims: how pH answered, and how it rose later.

Read from the record of those batches, from readings that were judged and amounts that were proven. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice
from statistics import fmean

from controller.measure.buffering import Direction, Titration
from controller.measure.trim_history import TrimHistory
from controller.plan.steps import Purpose, StepKind
from controller.record.batch_record import BatchRecord, DoseRecord, Timed
from controller.record.events import DoseOutcome, Reading
from controller.settings.values import Recipe, Site

# How many nights are looked at: the rebound is their mean, the answers are of the newest that has any.
NIGHTS = 3


def trim_history(nights: Iterable[BatchRecord], site: Site, recipe: Recipe) -> TrimHistory:
    """Gather what `nights` of one recipe, the newest first, and its jar test taught.

    A rebound typed into the recipe counts before the one on record.
    """
    looked = tuple(islice(nights, NIGHTS))
    taught = next((night for night in looked if _answers(night, site, recipe)), None)
    rises = [rise for night in looked if (rise := _rebound_ph(night)) is not None]
    rebound_ph, source = (fmean(rises), "as it did on earlier nights") if rises else (None, "")
    if recipe.rebound_ph is not None:
        rebound_ph, source = recipe.rebound_ph, "as the recipe says"
    first = taught.accepted[0].event if taught is not None else None
    return TrimHistory(
        answers=() if taught is None else _answers(taught, site, recipe),
        source="" if taught is None else f"batch {taught.batch}",
        temperature_c=None if first is None else first.temperature_c,
        ec_us_cm=None if first is None else first.ec_us_cm,
        jar=_jar(recipe),
        rebound_ph=rebound_ph,
        rebound_source=source,
    )


def _jar(recipe: Recipe) -> Titration | None:
    jar = recipe.jar_test
    if jar is None:
        return None
    way = Direction.DOWN if jar.input == recipe.trim_acid else Direction.UP
    return Titration(way, jar.ml_l, jar.ph_before, jar.ph_after)


def _answers(record: BatchRecord, site: Site, recipe: Recipe) -> tuple[Titration, ...]:
    """Give the answers that stand out of the doubt of a reading, in order of dosing.

    Only of the inputs that the recipe trims with today.
    """
    ways = {recipe.trim_acid: Direction.DOWN, recipe.trim_base: Direction.UP}
    given_ml_l = dict.fromkeys(Direction, 0.0)
    found = []
    for dose in record.doses:
        way = ways.get(dose.intent.event.input)
        if way is None or dose.intent.event.purpose != Purpose.TRIM.value:
            continue
        slow = site.inputs[dose.intent.event.input].slow_dissolving
        answer = _answer(dose, way, record, given_ml_l[way], slow=slow)
        if answer is None:
            continue
        given_ml_l[way] += answer.ml_l
        if answer.moved_ph > site.policy.trim.stable_ph:
            found.append(answer)
    return tuple(found)


def _answer(
    dose: DoseRecord, way: Direction, record: BatchRecord, given_ml_l: float, *, slow: bool
) -> Titration | None:
    """Join one dose with the judged readings around it; None when any of the three is missing.

    Of a slow-dissolving input the last reading before the next dose or wait for CO2 counts.
    """
    result, believed = dose.result, dose.own
    if result is None or believed is None or believed.outcome == DoseOutcome.UNPROVEN:
        return None
    until_s = _next_disturbance_s(record, result.t_s)
    before = [reading.event for reading in record.accepted if reading.t_s <= dose.intent.t_s]
    after = [reading.event for reading in record.accepted if result.t_s <= reading.t_s <= until_s]
    if not before or not after:
        return None
    ph_before, ph_after, level_l = before[-1].ph, after[-1 if slow else 0].ph, after[0].level_l
    if ph_before is None or ph_after is None or not level_l:
        return None
    return Titration(way, believed.ml / level_l, ph_before, ph_after, given_ml_l)


def _next_disturbance_s(record: BatchRecord, from_s: float) -> float:
    """Give when the next dose, wait for CO2 or keeping begins after `from_s`."""
    doses = [dose.intent.t_s for dose in record.doses if dose.intent.event.purpose != Purpose.RINSE.value]
    others = {StepKind.REBOUND.value, StepKind.KEEP.value}
    steps = [step.started.t_s for step in record.steps if step.started.event.kind in others]
    return min((t_s for t_s in (*doses, *steps) if t_s > from_s), default=record.duration_s)


def _rebound_ph(record: BatchRecord) -> float | None:
    """Give how far pH went in the wait for CO2; None when it was not waited or not read on both sides."""
    for step in record.steps:
        if step.started.event.kind != StepKind.REBOUND.value or step.ended is None:
            continue
        before = _ph_of(record.accepted, upto_s=step.started.t_s)
        after = _ph_of(record.accepted, from_s=step.ended.t_s)
        if before and after:
            return after[0] - before[-1]
    return None


def _ph_of(
    readings: Sequence[Timed[Reading]], *, from_s: float = float("-inf"), upto_s: float = float("inf")
) -> list[float]:
    return [
        reading.event.ph
        for reading in readings
        if from_s <= reading.t_s <= upto_s and reading.event.ph is not None
    ]
