"""The page that explains a simulated night: true against measured values, as one self-contained HTML page.

What is said, and in which order, lives here; drawings, amounts and the words for faults are in the other
files `explain_*.py`. Only a simulation can make this page: on a real rig nobody knows what is true.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from controller.record.page import Html, element, join, page, section, table, text
from controller.record.verdict import Fitness, kept_from_s, verdict
from controller.record.words import date_and_time, duration, later, signed, time_of_day
from controller.settings.values import Site
from sim.differences import Difference, Dosed, TrueCourse, doses
from sim.explain_amounts import amounts
from sim.explain_plots import CONDUCTIVITY, LEVEL, PH, TEMPERATURE, Stretch, figures
from sim.explain_world import broken_on_purpose, errors_of_the_world
from sim.outcome import NightOutcome
from sim.truth_trace import NightTruth

ONLY_HERE = (
    "This night was simulated, and only a simulation knows what is true. Of a real tank nobody knows more "
    "than what was measured. The controller saw the measured values and nothing else."
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
        _how_far_off(course, doses(record, outcome.ml_by_dose, seen.solids_share_by_dose)),
        broken_on_purpose(outcome, seen),
        _over_time(course, seen),
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


def _how_far_off(course: TrueCourse, dosed: Sequence[Dosed]) -> Html:
    record = course.record
    accepted = set(record.accepted)
    wet = [reading for reading in record.readings if course.wet(course.before(reading))]
    watched = [reading for reading in wet if reading not in accepted]

    def litres_off(found: Difference) -> str:
        return f"{found.amount:.2f} L"

    def ph_off(found: Difference) -> str:
        return f"{found.amount:.3f} pH"

    rows = [
        _row(
            course, "Level", litres_off, course.differences(record.readings, LEVEL.measured_of, LEVEL.true_of)
        ),
        _row(
            course,
            "pH, accepted readings",
            ph_off,
            course.differences(record.accepted, PH.measured_of, PH.true_of),
        ),
        _row(course, "pH, other readings", ph_off, course.differences(watched, PH.measured_of, PH.true_of)),
        _row(
            course,
            "Temperature",
            lambda found: f"{found.amount:.2f} °C",
            course.differences(wet, TEMPERATURE.measured_of, TEMPERATURE.true_of),
        ),
        _row(
            course,
            "Conductivity",
            lambda found: f"{100 * found.share:.1f} %",
            course.differences(wet, CONDUCTIVITY.measured_of, CONDUCTIVITY.true_of),
            lambda found: abs(found.share),
        ),
        _dose_row(course, dosed),
    ]
    head = ("measured less true", "largest", "at the end")
    note = (
        "pH is judged by accepted readings only: settled and steady. The others were taken while the tank "
        "was still moving, and were only watched. An amount is recorded less what was truly pumped."
    )
    told = table(
        "The largest difference, when it was, and the last one", head, rows, numbers=(1, 2), kind="even"
    )
    return section("How far off", told, element("p", note, "soft"))


def _row(
    course: TrueCourse,
    name: str,
    write: Callable[[Difference], str],
    found: Sequence[Difference],
    size: Callable[[Difference], float] = lambda found: abs(found.amount),
) -> tuple[str, ...]:
    if not found:
        return (name, "no reading", "no reading")
    largest = max(found, key=size)
    return (name, _cell(course, write(largest), largest.t_s), _cell(course, write(found[-1]), found[-1].t_s))


def _dose_row(course: TrueCourse, dosed: Sequence[Dosed]) -> tuple[str, ...]:
    known = [
        (dose.t_s, dose.recorded_share)
        for dose in dosed
        if dose.recorded_share is not None and dose.t_s is not None
    ]
    if not known:
        return ("Amount of a dose", "no dose", "no dose")
    largest = max(known, key=lambda one: abs(one[1]))
    return (
        "Amount of a dose",
        *(_cell(course, f"{100 * share:.1f} %", t_s) for t_s, share in (largest, known[-1])),
    )


def _cell(course: TrueCourse, words: str, t_s: float) -> Html:
    return join(
        text(signed(words)), element("small", time_of_day(later(course.record.started.row.wall, t_s)))
    )


def _over_time(course: TrueCourse, seen: NightTruth) -> Html:
    kept_s, end_s = kept_from_s(course.record), course.end_s
    began_s = course.record.started.row.at_s
    struck = [at_s - began_s for at_s, _ in seen.struck]

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
