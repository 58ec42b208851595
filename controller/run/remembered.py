"""What an earlier batch of the same recipe taught about its trims: how pH answered to each dose.

Read from the record of that batch, from readings that were judged and amounts that were proven. Pure.
"""

from __future__ import annotations

from controller.measure.buffering import Direction, Titration
from controller.plan.steps import Purpose
from controller.record.batch_record import BatchRecord, DoseRecord, Timed
from controller.record.events import DoseOutcome, Reading
from controller.settings.values import Reaction, Site

_WAYS = {Reaction.ACID: Direction.DOWN, Reaction.BASE: Direction.UP}


def remembered_answers(record: BatchRecord, site: Site) -> tuple[Titration, ...]:
    """Give the answers that stand out of the doubt of a reading, in order of dosing."""
    doubt_ph = site.policy.trim.stable_ph
    trims = [dose for dose in record.doses if dose.intent.event.purpose == Purpose.TRIM.value]
    answers = (_answer(dose, record.accepted, site) for dose in trims)
    return tuple(answer for answer in answers if answer is not None and answer.moved_ph > doubt_ph)


def _answer(dose: DoseRecord, readings: tuple[Timed[Reading], ...], site: Site) -> Titration | None:
    """Join one dose with the judged readings around it; None when any of the three is missing."""
    liquid = site.inputs.get(dose.intent.event.input)
    way = None if liquid is None else _WAYS.get(liquid.reaction)
    result = dose.result
    if way is None or result is None or result.event.outcome != DoseOutcome.DONE:
        return None
    before = [reading.event for reading in readings if reading.t_s <= dose.intent.t_s]
    after = [reading.event for reading in readings if reading.t_s >= result.t_s]
    if not before or not after:
        return None
    ph_before, ph_after, level_l = before[-1].ph, after[0].ph, after[0].level_l
    if ph_before is None or ph_after is None or not level_l:
        return None
    return Titration(way, result.event.ml / level_l, ph_before, ph_after)
