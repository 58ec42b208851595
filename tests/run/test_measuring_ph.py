"""The measuring of pH: what is accepted with which doubt, and what is refused with which words."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from calm import BOARD, PANEL

from controller.measure.electrode import DEAD_S, mv_from_ph
from controller.measure.two_probes import APART_LOOKS
from controller.plan.batch import plan_batch
from controller.plan.steps import Measure, Plan, Release, StepKind, Trim
from controller.plan.tonight import tonight_from
from controller.record.events import AnyEvent, Reading
from controller.run.image import Image
from controller.run.phases.fresh import not_yet
from controller.run.phases.keep import DOUBT_S, KeepPhase
from controller.run.phases.measure import MeasurePhase
from controller.run.phases.phase import Accepted, Memory, Turn, View
from controller.run.phases.settling import note_settling
from controller.run.probe_track import APART_EVERY_S, MIN_LOOKS, PairTrack, ProbeTrack
from controller.run.readings import ProbeMoved, Readings, readings_from
from controller.run.situation import Cause
from controller.settings.values import Rig, Site

STEP = Measure(
    kind=StepKind.MEASURE,
    title="Measure pH",
    expected_s=60.0,
    stable_s=60.0,
    stable_ph=0.02,
    give_up_s=300.0,
)
MOVED = ProbeMoved(100.0)
Course = Callable[[float], float | None]
TANK_C = 18.0


@pytest.fixture
def plan(demo_site: Site) -> Plan:
    return plan_batch(demo_site, "plain_flush", tonight_from(demo_site))


def one_probe(site: Site) -> Site:
    return replace(site, rig=replace(site.rig, second_probe=None))


def seen(rig: Rig, first: float | None, second: float | None = None, moved: ProbeMoved = MOVED) -> Readings:
    """What is read of probes that stand in water of these pH values."""
    first_mv = None if first is None else mv_from_ph(first, TANK_C, rig.probe)
    second_mv = None
    if second is not None and rig.second_probe is not None:
        second_mv = mv_from_ph(second, TANK_C, rig.second_probe)
    board = replace(BOARD, ph_mv=first_mv, second_ph_mv=second_mv, tank_c=TANK_C)
    return readings_from(Image(board, PANEL), rig, moved, MOVED)


class Bench:
    """A measure step on a tank that gives these pH values, from the start of the settle on."""

    def __init__(self, site: Site, plan: Plan, first: Course, second: Course = lambda t: None) -> None:
        self.site, self.first, self.second = site, first, second
        self.memory = Memory(batch=1, plan=plan, next_dose_id=1)
        self.events: list[AnyEvent] = []
        self.phase = MeasurePhase(STEP)

    def view(self, at_s: float, elapsed_s: float) -> View:
        return View(
            now_s=1000.0 + at_s,
            elapsed_s=elapsed_s,
            number=1,
            today=None,
            image=Image(BOARD, PANEL),
            readings=seen(self.site.rig, self.first(at_s), self.second(at_s)),
            site=self.site,
            memory=self.memory,
            put=lambda event: self.events.append(event) or 1,
            durable=lambda ticket: True,
        )

    def settle(self, seconds: float = 240.0) -> Bench:
        for place in range(round(seconds / 10.0)):
            note_settling(self.view(10.0 * place - seconds, 0.0), 10.0 * place)
        return self

    def run(self) -> tuple[float, Turn]:
        for place in range(100):
            turn = self.phase.scan(self.view(5.0 * place, 5.0 * place))
            if turn.done or turn.trouble is not None:
                return 5.0 * place, turn
        raise AssertionError("it neither accepts nor gives up")


def noisy(ph: float, sd: float, seed: int) -> Course:
    chance = random.Random(seed)
    return lambda at_s: ph + chance.gauss(0.0, sd)


def test_a_quiet_probe_is_accepted_after_its_window_with_a_small_doubt(demo_site: Site, plan: Plan) -> None:
    bench = Bench(one_probe(demo_site), plan, noisy(6.1, 0.0025, 1))
    at_s, turn = bench.run()
    assert (at_s, turn.done) == (60.0, True)
    (accepted,) = bench.memory.readings
    assert accepted.ph == pytest.approx(6.1, abs=0.004)
    assert 0.0003 <= accepted.doubt_ph <= 0.003
    assert accepted.ec_us_cm is not None
    (event,) = bench.events
    assert isinstance(event, Reading)
    assert event.accepted


@pytest.mark.parametrize("seed", range(12))
def test_a_probe_with_a_noise_of_0_03_is_accepted_later_and_its_doubt_says_how_sure_the_mean_is(
    demo_site: Site, plan: Plan, seed: int
) -> None:
    bench = Bench(one_probe(demo_site), plan, noisy(6.1, 0.03, seed))
    at_s, turn = bench.run()
    assert turn.done
    assert 60.0 < at_s <= 300.0
    (accepted,) = bench.memory.readings
    assert abs(accepted.ph - 6.1) <= 4.0 * accepted.doubt_ph
    assert 0.003 <= accepted.doubt_ph <= 0.011


def test_the_mean_of_two_probes_is_worked_with_and_its_doubt_is_smaller(demo_site: Site, plan: Plan) -> None:
    bench = Bench(demo_site, plan, noisy(6.05, 0.01, 1), noisy(6.15, 0.01, 2))
    assert bench.run()[1].done
    (accepted,) = bench.memory.readings
    assert accepted.ph == pytest.approx(6.10, abs=0.01)
    alone = Bench(one_probe(demo_site), plan, noisy(6.05, 0.01, 1))
    assert alone.run()[1].done
    assert accepted.doubt_ph < alone.memory.readings[0].doubt_ph


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        (
            lambda t: 6.0,
            lambda t: 6.2,
            "first pH probe says 6.00, the second pH probe says 6.20: they differ",
        ),
        (lambda t: 6.0, lambda t: None, "second pH probe gives no plausible reading (no signal)"),
        (lambda t: None, lambda t: 6.0, "the first pH probe gives no plausible reading"),
        (lambda t: 6.0, lambda t: 6.0 + 0.0004 * t, "did not become steady within 5 min (the second"),
        (lambda t: 6.0, noisy(6.0, 0.2, 3), "the second pH probe scatters by 0.2"),
    ],
)
def test_two_probes_of_which_one_is_doubted_give_up_and_name_it(
    demo_site: Site, plan: Plan, first: Course, second: Course, words: str
) -> None:
    at_s, turn = Bench(demo_site, plan, first, second).run()
    assert turn.trouble is not None
    assert turn.trouble.cause is Cause.PROBE_DOUBTFUL
    assert words in turn.trouble.text
    assert at_s > STEP.give_up_s


def test_nothing_is_accepted_in_a_moment_in_which_the_probes_are_doubted(demo_site: Site, plan: Plan) -> None:
    bench = Bench(demo_site, plan, lambda t: 6.0, lambda t: 6.16 if t == 60.0 else 6.14)
    at_s, turn = bench.run()
    assert turn.done
    assert at_s > 60.0


def test_a_probe_that_is_lost_for_a_moment_begins_its_window_anew(demo_site: Site, plan: Plan) -> None:
    bench = Bench(demo_site, plan, lambda t: None if t == 40.0 else 6.0, lambda t: 6.0)
    at_s, turn = bench.run()
    assert turn.done
    assert at_s == 105.0


def test_a_slow_probe_is_named_by_how_it_comes_to_rest(demo_site: Site, plan: Plan) -> None:
    # Time constant 60 s, so 95 % in 180 s; it has 0.1 pH to go as the settle begins.
    slow = lambda t: 6.0 + 0.1 * math.exp(-(t + 240.0) / 60.0)  # noqa: E731
    jitter = noisy(0.0, 0.0005, 4)
    note = Bench(demo_site, plan, lambda t: 6.0 + jitter(t), slow).settle().run()[1].note
    found = re.search(r"the second pH probe answers slowly, 95 % of a change in (\d+) s: clean it", note)
    assert found is not None
    assert float(found[1]) == pytest.approx(180.0, rel=0.1)
    alone = Bench(one_probe(demo_site), plan, slow).settle().run()[1].note
    assert "a film on it, or the tank still reacts" in alone
    quick = Bench(demo_site, plan, lambda t: 6.0 + jitter(t), lambda t: 6.0 + jitter(t)).settle()
    assert "slowly" not in quick.run()[1].note


def test_a_signal_that_stands_still_for_a_quarter_of_an_hour_is_dead(demo_site: Site) -> None:
    track = ProbeTrack()
    for place in range(MIN_LOOKS * 4):
        track.look(60.0 + 0.1 * (place % 2), 20.0 * place)
    assert track.moved.same_s == 0.0
    last_s = 20.0 * MIN_LOOKS * 4
    for place in range(MIN_LOOKS):
        track.look(60.0, last_s + 60.0 * place)
    moved = track.moved
    assert moved.same_s >= DEAD_S
    assert moved.moved_mv == pytest.approx(0.1)
    dead = seen(one_probe(demo_site).rig, 6.0, moved=replace(moved, moved_mv=100.0))
    assert not dead.ph_proven
    assert "the pH probe's signal stands at pH 6.00 and does not move at all" in dead.ph_why


def test_few_looks_at_one_value_prove_no_dead_probe() -> None:
    track = ProbeTrack()
    for place in range(MIN_LOOKS - 1):
        track.look(60.0, 1000.0 * place)
    assert track.moved.same_s == 0.0


def test_how_two_signals_stand_apart_is_followed_but_not_more_often_than_it_tells_something_new() -> None:
    pair = PairTrack()
    for place in range(20):
        pair.look(60.0 + place, 52.4 + place, 0.5 * place * APART_EVERY_S)
    assert pair.apart_mv == pytest.approx([7.6] * 10)
    pair.look(None, 52.4, 1000.0)
    assert pair.apart_mv == ()
    for place in range(3 * APART_LOOKS):
        pair.look(60.0, 60.0 if place >= APART_LOOKS else 0.0, 2000.0 + APART_EVERY_S * place)
    assert pair.apart_mv == (0.0,) * APART_LOOKS


def test_a_probe_that_is_shown_twice_proves_nothing(demo_site: Site) -> None:
    rig = demo_site.rig
    mv = mv_from_ph(6.0, TANK_C, rig.probe)
    image = Image(replace(BOARD, ph_mv=mv, second_ph_mv=mv, tank_c=TANK_C), PANEL)
    assert readings_from(image, rig, MOVED, MOVED).ph_proven, "one look tells nothing"
    readings = readings_from(image, rig, MOVED, MOVED, [0.0] * APART_LOOKS)
    assert not readings.ph_proven
    assert readings.ph_why.startswith("both signals are one: the switch before the converter is stuck")
    alike = replace(rig, second_probe=rig.probe)
    assert readings_from(image, alike, MOVED, MOVED, [0.0] * APART_LOOKS).ph_proven
    alone = replace(rig, second_probe=None)
    assert readings_from(image, alone, MOVED, MOVED, [0.0] * APART_LOOKS).ph_proven


@pytest.mark.parametrize("kind", [StepKind.TRIM, StepKind.RELEASE])
def test_trim_and_release_judge_no_tank_by_probes_that_are_doubted_now(
    demo_site: Site, plan: Plan, kind: StepKind
) -> None:
    step = next(step for step in plan.steps if step.kind is kind)
    assert isinstance(step, Trim | Release)
    bench = Bench(demo_site, plan, lambda t: 6.0, lambda t: 6.2)
    bench.memory.readings.append(Accepted(6.0, TANK_C, 1000.0))
    waits = not_yet(bench.view(0.0, 0.0), 180.0, step)
    assert waits is not None
    assert (waits.done, waits.trouble) == (False, None)
    ends = not_yet(bench.view(5.0, 5.0), 180.0, step)
    assert ends is not None
    assert ends.trouble is not None
    assert ends.trouble.cause is Cause.PROBE_DOUBTFUL
    assert "the second pH probe says 6.20" in ends.trouble.text
    sound = Bench(demo_site, plan, lambda t: 6.0, lambda t: 6.1)
    sound.memory.readings.append(Accepted(6.0, TANK_C, 1000.0))
    assert not_yet(sound.view(5.0, 5.0), 180.0, step) is None


def test_a_kept_tank_loses_its_permit_when_its_probes_part_and_each_is_named(
    demo_site: Site, plan: Plan
) -> None:
    step = plan.steps[-1]
    bench = Bench(demo_site, plan, lambda t: 6.0, lambda t: 6.0 if t < 300.0 else 6.3)
    phase = KeepPhase(step)  # type: ignore[arg-type]
    bench.memory.released_at_s = 1000.0
    for at_s in range(0, 1000, 30):
        turn = phase.scan(bench.view(float(at_s), float(at_s)))
        if turn.trouble is not None:
            break
    assert turn.trouble is not None
    assert turn.trouble.cause is Cause.PERMIT_WITHDRAWN
    assert "the first pH probe says 6.00, the second pH probe says 6.30" in turn.trouble.text
    assert at_s == 300 + DOUBT_S
