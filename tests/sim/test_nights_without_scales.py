"""Nights at a site without scales: what the tank's level tells of a dose that did not come, and what not.

The demo site with every scale taken away. What is not told is named with its harm, as in
`test_nights_unseen.py`; none of it is safe. The last ones are at the demo site itself, where all is weighed.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from fault_nights import FRUITING, YOUNG_PLANTS, Ended, night_with

from controller.record.batch_record import read_batch
from controller.record.events import AlarmState
from controller.run.sequence import ENDS, Command, RunState
from controller.run.situation import Cause
from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site
from sim.faults import FaultPlan
from sim.night import Night

EARLY_S = 100.0
TOLD = [
    ("blocked:fish_hydrolysate", 720),
    ("blocked:kelp_extract", 476),
    ("blocked:gypsum_suspension", 360),
    ("blocked:molasses", 713),
    ("blocked:potassium_humate", 238),
    ("blocked:compost_extract", 900),
    ("half-blocked:molasses", 357),
    ("bottle-empty:kelp_extract", 451),
]
"""Fault, and the mL that do not come: told before the next concentrate, or at the end of the settling."""
WEAK = (
    "worn:fish_hydrolysate",
    "worn:kelp_extract",
    "worn:gypsum_suspension",
    "worn:molasses",
    "air-leak:potassium_humate",
)
"""Together some 400 mL, and none of them much more than 100."""
NOT_TOLD = [
    ("blocked:soapbark_extract", 0.0, "90 mL, and foam lifts the level"),
    ("air-leak:potassium_humate", 0.73, "64 mL are lost in the doubt of two looks"),
    ("worn:kelp_extract", 0.85, "71 mL are lost in it too"),
]


@pytest.fixture(scope="module")
def bare_site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    folder = Path(shutil.copytree(demo_site_folder(), tmp_path_factory.mktemp("bare") / "site"))
    rig = folder / "rig.toml"
    words, scales = re.subn(r"(?m)^\[scales\..*\n(?:line = .*\n)?", "", rig.read_text("utf-8"))
    words, pumps = re.subn(r"(?m)^scale = .*\n", "", words)
    rig.write_text(words, "utf-8")
    site = load_site(folder)
    assert scales > 0
    assert pumps == len(site.rig.pumps)
    assert not site.rig.scales
    return site


def missing_ml(night: Ended) -> float:
    found = re.search(r"(\d+) mL missing", night.record.alarms[0].event.text)
    assert found is not None, night.record.alarms[0].event.text
    return float(found[1])


def told_true(night: Ended) -> None:
    """Hold what the record says last to what the pumps moved: of every dose, and of rinses it took back."""
    taken_back = [dose for dose in night.record.doses if dose.amended]
    assert taken_back
    assert all(dose.own is not None and dose.own.basis == "by level" for dose in taken_back)
    for dose in night.record.doses:
        if dose.intent.event.purpose == "rinse" and not dose.amended:
            continue
        believed, dose_id = dose.own, dose.intent.event.dose_id
        assert believed is not None
        off_ml = abs(night.rig.pins.ml_by_dose.get(dose_id, 0.0) - believed.ml)
        assert off_ml <= believed.uncertainty_ml + 1.0, believed


@pytest.mark.parametrize(("fault", "lost_ml"), TOLD)
def test_a_large_dose_that_does_not_come_is_told_by_the_level(
    bare_site: Site, tmp_path: Path, fault: str, lost_ml: float
) -> None:
    night = night_with(bare_site, tmp_path, FRUITING, (EARLY_S, fault))
    assert (night.held, night.released, night.violations) == (True, False, ())
    assert [name for name, _ in night.raised] == [Cause.DOSE_MISSING.value]
    assert fault.partition(":")[2] in night.record.alarms[0].event.text
    assert missing_ml(night) == pytest.approx(lost_ml, abs=130)
    doses = [dose.intent.event.input for dose in night.record.doses]
    assert [name for name in doses if name != "rinse water"][-1] == fault.partition(":")[2]
    told_true(night)


def test_a_rinse_that_never_comes_is_told_by_the_level(bare_site: Site, tmp_path: Path) -> None:
    night = night_with(bare_site, tmp_path, FRUITING, (EARLY_S, "blocked:rinse_water"))
    assert (night.held, night.released) == (True, False)
    assert night.raised[0][0] == Cause.DOSE_MISSING.value
    assert "rinse water" in night.record.alarms[0].event.text
    told_true(night)


def test_several_weak_pumps_show_in_the_sum_though_none_shows_alone(bare_site: Site, tmp_path: Path) -> None:
    night = night_with(bare_site, tmp_path, FRUITING, *((700.0, fault) for fault in WEAK))
    assert (night.held, night.released) == (True, False)
    assert night.raised[0][0] == Cause.DOSE_MISSING.value
    text = night.record.alarms[0].event.text
    assert all(fault.partition(":")[2] in text for fault in WEAK)
    assert missing_ml(night) == pytest.approx(400, abs=150)
    told_true(night)


@pytest.mark.parametrize(("fault", "share", "why"), NOT_TOLD)
def test_a_small_loss_is_not_told_and_the_truth_is(
    bare_site: Site, tmp_path: Path, fault: str, share: float, why: str
) -> None:
    night = night_with(bare_site, tmp_path, FRUITING, (700.0, fault))
    name = fault.partition(":")[2]
    assert night.released, why
    assert night.raised == [], why
    assert night.fed is not None
    assert night.fed.ml[name] / night.recorded_ml[name] == pytest.approx(share, abs=0.03)
    (broken,) = night.violations
    assert broken.law == 12
    assert f"{night.fed.ml[name]:.0f} mL of {name} is fed" in broken.text


def scans(night: Night) -> Iterator[None]:
    """Run until the batch has ended, giving way after every scan; a kept tank is stopped."""
    while True:
        now = night.step()
        if now.state in ENDS:
            return
        if now.released:
            night.scan.order(Command.STOP, "tester")
        yield


def told(night: Night) -> list[str]:
    night.close()
    alarms = read_batch(night.record_path, night.batch).alarms
    return [alarm.event.alarm for alarm in alarms if alarm.event.state == AlarmState.RAISED.value]


@pytest.mark.parametrize("poured", [False, True], ids=["left out", "poured in by hand"])
def test_after_a_person_has_looked_the_night_goes_on_and_the_same_dose_is_not_told_again(
    bare_site: Site, tmp_path: Path, poured: bool
) -> None:
    night = Night(bare_site, FRUITING, 3, tmp_path, FaultPlan([(EARLY_S, "blocked:gypsum_suspension")]))
    released, pours = False, 1 if poured else 0
    for _ in scans(night):
        assert night.scan.snapshot is not None
        released = released or night.scan.snapshot.released
        if night.scan.state is RunState.HELD:
            if pours:
                night.rig.plant.tank.add(360.0, night.rig.plant._supply_content(360.0))
                pours -= 1
            night.scan.acknowledge("tester")
            night.scan.order(Command.RESTART, "tester")
    assert released
    assert told(night) == [Cause.DOSE_MISSING.value]


def test_a_slow_leak_between_the_fills_is_told_though_every_dose_was_weighed(
    demo_site: Site, tmp_path: Path
) -> None:
    night = Night(demo_site, YOUNG_PLANTS, 3, tmp_path)
    lost_l, at_s = 0.0, 0.0
    for _ in scans(night):
        assert night.scan.memory is not None
        passed_s, at_s = night.rig.now_s - at_s, night.rig.now_s
        if night.scan.memory.arrivals.follows and lost_l < 0.6:
            night.rig.plant.tank.remove(0.001 * passed_s)
            lost_l += 0.001 * passed_s
        if night.scan.state is RunState.HELD:
            night.scan.order(Command.STOP, "tester")
    assert lost_l > 0.3
    assert told(night) == [Cause.DOSE_MISSING.value]


@pytest.mark.parametrize(("recipe", "seed"), [(FRUITING, 11), (YOUNG_PLANTS, 12)])
def test_a_good_night_without_scales_is_released_with_nothing_told(
    bare_site: Site, tmp_path: Path, recipe: str, seed: int
) -> None:
    night = Night(bare_site, recipe, seed, tmp_path)
    released = False
    for _ in scans(night):
        assert night.scan.snapshot is not None
        released = released or night.scan.snapshot.released
    assert released
    assert night.violations == ()
    assert told(night) == []
    steps = read_batch(night.record_path, night.batch).steps
    notes = [step.ended.event.note for step in steps if step.ended is not None]
    assert sum("were moved: arrived" in note for note in notes) >= 2
