"""The page that explains a simulated night: true against measured values, as one self-contained HTML page.

What is said, and in which order, lives here; drawings, amounts and the words for faults are in the other
files of this folder. Only a simulation can make this page: on a real rig nobody knows what is true.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from controller.measure.electrode import ph_from_mv
from controller.record.axis import Point
from controller.record.batch_record import Timed
from controller.record.events import Reading
from controller.record.page import Html, element, join, page, section, table, text
from controller.record.verdict import Fitness, kept_from_s, verdict
from controller.record.words import date_and_time, duration, later, millilitres, signed, time_of_day
from controller.settings.values import Site
from sim.explain.amounts import amounts, summed
from sim.explain.differences import Dosed, TrueCourse, doses
from sim.explain.plots import CONDUCTIVITY, LEVEL, PH, TEMPERATURE, Quantity, Stretch, figures
from sim.explain.scales import weighings
from sim.explain.world_errors import broken_on_purpose, errors_of_the_world
from sim.outcome import NightOutcome

ONLY_HERE = (
    "This night was simulated, and only a simulation knows what is true. Of a real tank nobody knows more "
    "than what was measured. The controller saw the measured values and nothing else."
)
JUDGED = (
    "Each sensor is judged by the water around it. Accepted pH readings were settled and steady, and trims "
    "and the release went by them alone. The others were taken in between: while the tank was moving, or "
    "while it was kept. The amount of a dose is recorded less what its pump truly moved, that of an input "
    "less all that came, by pump or gravity."
)
ALONE = (
    "A probe alone: what its voltage means by its calibration in rig.toml, at the accepted readings. The "
    "controller works with the mean of both."
)


def explain_html(outcome: NightOutcome, site: Site) -> str:
    """Make the page of a traced night. Raises ValueError for one that was not traced.

    Nothing in it is fetched from elsewhere, and it runs no script.
    """
    seen = outcome.seen
    if seen is None:
        raise ValueError("the night was not traced")
    record = outcome.record
    start = record.started
    course = TrueCourse(record, seen.samples)
    title = f"Batch {outcome.batch}: {start.event.title}, true against measured"
    begun = f"Begun {date_and_time(start.row.wall)}, recipe {start.event.recipe}, seed {seen.seed}."
    body = join(
        element("h1", title),
        element("p", begun, "soft"),
        _head(outcome),
        _how_far_off(outcome, course, doses(record, outcome.ml_by_dose, seen.solids_share_by_dose), site),
        broken_on_purpose(outcome),
        _over_time(course, outcome.struck),
        amounts(outcome, seen),
        errors_of_the_world(site, seen.world),
    )
    return page(title, body)


def _head(outcome: NightOutcome) -> Html:
    found = verdict(outcome.record)
    kind = "good" if found.fitness in (Fitness.RELEASED, Fitness.KEPT) else "bad"
    laws = (
        element("p", f"Safety law {broken.law} broken at {duration(broken.at_s)}: {broken.text}")
        for broken in outcome.violations
    )
    said = f"{found.fitness.value}. {found.because}"
    box = join(element("p", "A simulated night", "say"), element("p", ONLY_HERE), element("p", said), *laws)
    return Html(f'<div class="verdict {kind}">{box}</div>')


def _how_far_off(outcome: NightOutcome, course: TrueCourse, dosed: Sequence[Dosed], site: Site) -> Html:
    """Judge every sensor by the water that it hung in; what was not mixed yet is no fault of a sensor."""
    record = course.record
    accepted = set(record.accepted)
    wet = [reading for reading in record.readings if course.wet(course.before(reading))]
    watched = [reading for reading in wet if reading not in accepted]

    def row(of: Quantity, name: str, unit: str, readings: Iterable[Timed[Reading]]) -> tuple[str, ...]:
        found = course.differences(readings, of.measured_of, of.around_probe_of)
        decimals = 3 if of is PH else 2
        return _row(course, name, [(one.t_s, one.amount) for one in found], unit, decimals)

    salty = course.differences(wet, CONDUCTIVITY.measured_of, CONDUCTIVITY.around_probe_of)
    known = [
        (dose.t_s, 100.0 * dose.recorded_share)
        for dose in dosed
        if dose.recorded_share is not None and dose.t_s is not None
    ]
    rows = [
        row(LEVEL, "Level", "L", record.readings),
        row(PH, "pH, accepted readings", "pH", record.accepted),
        *_each_probe(course, site),
        row(PH, "pH, other readings", "pH", watched),
        row(TEMPERATURE, "Temperature", "°C", wet),
        _row(course, "Conductivity", [(one.t_s, 100.0 * one.share) for one in salty], "%", 1),
        _row(course, "Amount of a dose", known, "%", 1, "no dose"),
        _whole_amounts(summed(outcome, dosed)),
    ]
    on_scales = weighings(record, outcome.ml_by_dose)
    if on_scales:
        found = [(one.t_s, one.amount_ml) for one in on_scales]
        rows.insert(-1, _row(course, "Amount on a scale", found, "mL", 1))
    head = ("measured less true", "largest", "at the end")
    told = table(
        "The largest difference, when it was, and the last one", head, rows, numbers=(1, 2), kind="even"
    )
    words = JUDGED if site.rig.second_probe is None else f"{JUDGED} {ALONE}"
    return section("How far off", told, element("p", words, "soft"), _not_yet_mixed(course))


def _each_probe(course: TrueCourse, site: Site) -> list[tuple[str, ...]]:
    """Judge each of two pH probes by what it alone would have said; a single one is told already."""
    second = site.rig.second_probe
    if second is None:
        return []
    rows = []
    for place, (name, calibration) in enumerate((("first", site.rig.probe), ("second", second))):
        found: list[Point] = []
        for reading in course.record.accepted:
            sample, tank_c = course.beside(reading), reading.event.temperature_c
            if sample is None or tank_c is None or sample.ph_at_probe is None:
                continue
            if len(sample.probes_mv) > place:
                alone = ph_from_mv(sample.probes_mv[place], tank_c, calibration)
                found.append((reading.t_s, alone - sample.ph_at_probe))
        rows.append(_row(course, f"pH, {name} probe alone", found, "pH", 3))
    return rows


def _whole_amounts(inputs: Sequence[Dosed]) -> tuple[str, ...]:
    """Write the input whose record is furthest from what really came; it has no moment, and no last one."""
    known = [(of.recorded_ml - of.true_ml, of.input) for of in inputs if of.recorded_ml is not None]
    if not known:
        return ("Amount of an input", "no dose", "no dose")
    amount_ml, name = max(known, key=lambda one: abs(one[0]))
    largest = join(text(signed(millilitres(amount_ml))), element("small", name.replace("_", " ")))
    return ("Amount of an input", largest, "–")


def _not_yet_mixed(course: TrueCourse) -> Html:
    """Tell how far the water around the probe truly was from the whole tank."""
    acid = [
        (name, course.unmixed(PH.around_probe_of, PH.true_of, judged))
        for name, judged in (("pH, at any time", False), ("pH, at accepted readings", True))
    ]
    salty = course.unmixed(CONDUCTIVITY.around_probe_of, CONDUCTIVITY.true_of, False)
    rows = [_row(course, name, [(one.t_s, one.amount) for one in found], "pH", 3) for name, found in acid]
    rows.append(
        _row(course, "Conductivity, at any time", [(one.t_s, 100.0 * one.share) for one in salty], "%", 1)
    )
    head = ("at the probe less whole tank", "largest", "at the end")
    caption = "Not yet mixed: the water around the probe, beside the whole tank as if stirred well"
    return table(caption, head, rows, numbers=(1, 2), kind="even")


def _row(
    course: TrueCourse,
    name: str,
    found: Sequence[Point],
    unit: str,
    decimals: int,
    nothing: str = "no reading",
) -> tuple[str, ...]:
    """Write the largest and the last of (seconds, difference)."""
    if not found:
        return (name, nothing, nothing)
    wall = course.record.started.row.wall
    largest = max(found, key=lambda one: abs(one[1]))
    cells = (
        join(
            text(f"{signed(f'{amount:.{decimals}f}')} {unit}"),
            element("small", time_of_day(later(wall, t_s))),
        )
        for t_s, amount in (largest, found[-1])
    )
    return (name, *cells)


def _over_time(course: TrueCourse, faults: Sequence[tuple[float, str]]) -> Html:
    kept_s, end_s = kept_from_s(course.record), course.end_s
    began_s = course.record.started.row.at_s
    struck = [at_s - began_s for at_s, _ in faults]

    def stretch(name: str, from_s: float, to_s: float) -> Html:
        here = tuple(at_s for at_s in struck if from_s <= at_s <= to_s)
        return figures(Stretch(course, name, from_s, to_s, here))

    if kept_s is None or kept_s >= end_s:
        return section("Over the night", stretch("", 0.0, end_s))
    return section(
        "Over the night",
        stretch("", 0.0, kept_s),
        element("h3", "While it was kept"),
        stretch("-kept", kept_s, end_s),
    )
