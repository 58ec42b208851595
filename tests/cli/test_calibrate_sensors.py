"""`tankhand calibrate probe` and `conductivity`: guided, from files, written, on record, slips told."""

from __future__ import annotations

import json
import re
import shutil
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from controller.cli.calibrate import cups_at_hand
from controller.run.image import BoardImage, Motion
from controller.service.certificates import calibrations
from controller.settings.load import demo_site_folder, load_site
from sim.buffer_cups import BufferCups
from sim.world import load_world


@pytest.fixture
def own_site(tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_site_folder(), tmp_path / "own"))


def run(state: Path, *words: str) -> Result:
    return CliRunner().invoke(main, ["calibrate", *words, "--state", str(state)])


def answer(result: Result) -> dict[str, object]:
    found = json.loads(result.stdout)
    assert isinstance(found, dict)
    return found


def test_a_simulated_probe_is_calibrated_shown_and_put_on_record(tmp_path: Path) -> None:
    result = run(tmp_path / "state", "probe", "--rig", "sim", "--by", "Mira")
    assert result.exit_code == 0
    assert "Verdict: good; it may be used" in result.stdout
    assert "--write would put there:\n  ph_probe.offset = " in result.stdout
    (row,) = calibrations(tmp_path / "state")
    event = row.event
    assert (event.item, event.by, event.passed, event.unit) == ("ph probe", "Mira", True, "slope share")
    assert event.value == pytest.approx(0.976, abs=event.uncertainty)
    detail = json.loads(event.detail)
    assert [one["buffer"] for one in detail["readings"]] == ["4.00", "7.00"]
    listed = run(tmp_path / "state", "show", "--json")
    assert answer(listed)["calibrations"][0]["item"] == "ph probe"  # type: ignore[index]


@pytest.mark.parametrize(
    ("words", "item"), [((), "probe"), (("--second", "--points", "7.00,4.00,10.01"), "second_probe")]
)
def test_writing_changes_the_probe_it_is_about_and_keeps_every_comment(
    own_site: Path, tmp_path: Path, words: tuple[str, ...], item: str
) -> None:
    before, text = load_site(own_site).rig, (own_site / "rig.toml").read_text("utf-8")
    result = run(
        tmp_path / "state", "probe", "--site", str(own_site), "--rig", "sim", "--write", "--json", *words
    )
    assert result.exit_code == 0
    found, after = answer(result), load_site(own_site).rig
    assert found["written"] is True
    changed = getattr(after, item)
    assert changed.offset_mv == pytest.approx(found["offset_mv"], abs=0.006)
    assert changed.slope_share == pytest.approx(found["slope_share"], abs=1e-4)
    assert changed.calibrated.isoformat() == str(found["date"])[:10]
    other = "second_probe" if item == "probe" else "probe"
    assert getattr(after, other) == getattr(before, other)
    assert changed.isopotential_ph == getattr(before, item).isopotential_ph
    new = (own_site / "rig.toml").read_text("utf-8")
    assert [line for line in new.splitlines() if line.startswith("#")] == [
        line for line in text.splitlines() if line.startswith("#")
    ]


def test_the_isopotential_ph_is_written_when_it_was_asked_for(own_site: Path, tmp_path: Path) -> None:
    words = ("--site", str(own_site), "--rig", "sim", "--isopotential", "--write", "--temperature", "12")
    result = run(tmp_path / "state", "probe", *words)
    assert result.exit_code == 0
    assert re.search(r"isopotential pH 6\.\d\d ± 0\.\d\d \(k = 2", result.stdout)
    assert load_site(own_site).rig.probe.isopotential_ph == pytest.approx(6.6, abs=0.4)


def test_the_cell_is_calibrated_and_its_factor_written(own_site: Path, tmp_path: Path) -> None:
    result = run(
        tmp_path / "state", "conductivity", "--site", str(own_site), "--rig", "sim", "--write", "--json"
    )
    assert result.exit_code == 0
    cell = load_site(own_site).rig.cell
    assert cell is not None
    assert cell.factor == pytest.approx(1.0 / 1.01, abs=0.01)
    (row,) = calibrations(tmp_path / "state")
    assert (row.event.item, row.event.unit) == ("conductivity cell", "factor")


def test_both_scales_are_shown_and_only_shown(tmp_path: Path) -> None:
    result = run(tmp_path / "state", "conductivity", "--rig", "sim")
    assert "ppm on the 500 scale" in result.stdout
    assert "on the 700 scale" in result.stdout
    assert "ppm" not in calibrations(tmp_path / "state")[0].event.detail


def csv_of(place: Path, head: str, *cups: tuple[str, float, float], seconds: int = 120) -> Path:
    """Write looks at cups: label, resting value, what is still missing at first."""
    rows = [head]
    for number, (label, rest, missing) in enumerate(cups):
        for at_s in range(0, seconds, 2):
            value = rest + missing * 0.5 ** (at_s / 6.0)
            rows.append(f"{label},{1000 * number + at_s},{value:.2f},25.0")
    place.write_text("\n".join(rows) + "\n", "utf-8")
    return place


PH_HEAD, US_HEAD = "buffer,time_s,mv,temperature_c", "standard,time_s,us_cm,temperature_c"


def test_a_file_of_readings_gives_the_line_that_a_hand_would(tmp_path: Path) -> None:
    # Ideal slope at 25 °C 59.159 mV (CODATA 2018); 171.9 mV over 2.99 pH is 97.18 % of it.
    file = csv_of(tmp_path / "r.csv", PH_HEAD, ("7.00", -5.0, 3.0), ("4.00", 166.9, -171.9))
    found = answer(run(tmp_path / "state", "probe", "--from-readings", str(file), "--json"))
    assert found["slope_share"] == pytest.approx(0.97182, abs=2e-4)
    assert found["offset_mv"] == pytest.approx(-5.0, abs=0.05)
    assert found["verdict"] == "good"
    assert found["written"] is False


def test_a_calibration_that_did_not_pass_is_on_record_and_not_in_rig_toml(
    own_site: Path, tmp_path: Path
) -> None:
    file = csv_of(tmp_path / "r.csv", PH_HEAD, ("7.00", -5.0, 3.0), ("4.00", 130.0, -130.0))
    text = (own_site / "rig.toml").read_text("utf-8")
    words = ("--site", str(own_site), "--from-readings", str(file), "--write")
    result = run(tmp_path / "state", "probe", *words)
    assert result.exit_code == 1
    assert "NOT PASSED" in result.stdout
    assert "Nothing is written into rig.toml" in result.stdout
    assert (own_site / "rig.toml").read_text("utf-8") == text
    assert not calibrations(tmp_path / "state")[0].event.passed


def test_the_wrong_neutral_bottle_is_named_from_a_file_too(tmp_path: Path) -> None:
    # A probe as in rig.toml (4 mV, 98 %), in 6.865 instead of 7.00 at 25 °C: 4 + 0.98 x 59.159 x 0.135 mV.
    file = csv_of(tmp_path / "r.csv", PH_HEAD, ("7.00", 11.83, 3.0), ("4.00", 177.35, -165.0))
    result = run(tmp_path / "state", "probe", "--from-readings", str(file))
    assert result.exit_code == 1
    assert "fit the primary buffer 6.865" in result.stdout


def test_readings_in_ppm_are_named_and_not_written(own_site: Path, tmp_path: Path) -> None:
    file = csv_of(tmp_path / "r.csv", US_HEAD, ("1413", 706.5, 30.0))
    text = (own_site / "rig.toml").read_text("utf-8")
    words = ("--site", str(own_site), "--from-readings", str(file), "--write")
    result = run(tmp_path / "state", "conductivity", *words)
    assert result.exit_code == 1
    assert "most likely the readings are ppm on the 500 scale" in result.stdout
    assert "What to do: give the readings in µS/cm" in result.stdout
    assert (own_site / "rig.toml").read_text("utf-8") == text


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "row 1"),
        ("buffer,mv\n", "lacks time_s"),
        (f"{PH_HEAD}\n", "holds no readings"),
        (f"{PH_HEAD}\n7.00,0,abc,25\n", "row 2, mv = abc: is no number"),
        (f"{PH_HEAD}\n7.00,0,nan,25\n", "is no number"),
        (f"{PH_HEAD}\n7.00,0,1\n", "row 2: has 3 cells"),
        (f"{PH_HEAD}\n7.00,5,1,25\n7.00,5,1,25\n", "row 3 = 5: is not later"),
    ],
)
def test_a_faulty_file_is_told_by_row_and_column(tmp_path: Path, content: str, words: str) -> None:
    file = tmp_path / "r.csv"
    file.write_text(content, "utf-8")
    result = run(tmp_path / "state", "probe", "--from-readings", str(file))
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "state").exists()


def test_readings_that_never_rest_are_refused(tmp_path: Path) -> None:
    rows = [PH_HEAD] + [f"7.00,{at_s},{at_s * 0.5},25" for at_s in range(0, 120, 2)]
    file = tmp_path / "r.csv"
    file.write_text("\n".join(rows), "utf-8")
    result = run(tmp_path / "state", "probe", "--from-readings", str(file))
    assert result.exit_code == 2
    assert "buffer 7.00: the signal did not come to rest" in result.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("probe", "--rig", "sim", "--points", "6.86,4"), "is a primary buffer"),
        (("probe", "--rig", "sim", "--buffers", "primary", "--points", "7.00,4"), "is a technical buffer"),
        (("probe", "--rig", "sim", "--points", "7.00"), "Two or three different buffers"),
        (("probe", "--rig", "sim", "--points", "7,7.00"), "Two or three different buffers"),
        (("probe", "--rig", "sim", "--write"), "The demo site stays as it is"),
        (("conductivity", "--rig", "sim", "--write"), "The demo site stays as it is"),
        (("conductivity", "--rig", "sim", "--standards", "1500"), "is no standard"),
        (("conductivity", "--rig", "sim", "--standards", "1413,1413"), "One or two different standards"),
        (
            ("conductivity", "--rig", "sim", "--standards", "12.88"),
            "beyond the range of this board's module, 6000 µS/cm",
        ),
    ],
)
def test_wrong_usage_is_one_clear_line(tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    result = run(tmp_path / "state", *words)
    assert result.exit_code == 2
    assert told in result.stderr
    assert "Traceback" not in result.stderr


def test_a_site_with_one_probe_has_no_second_to_calibrate(own_site: Path, tmp_path: Path) -> None:
    rig = own_site / "rig.toml"
    text = rig.read_text("utf-8")
    start = text.index("[second_ph_probe]")
    rig.write_text(text[:start] + text[text.index("# Conductivity cell", start) :], "utf-8")
    world = own_site / "simulated.toml"
    kept, skipping = [], False
    for line in world.read_text("utf-8").splitlines():
        if line.startswith("["):
            skipping = line == "[second_ph_probe]"
        if not skipping:
            kept.append(line)
    world.write_text("\n".join(kept) + "\n", "utf-8")
    result = run(tmp_path / "state", "probe", "--site", str(own_site), "--rig", "sim", "--second")
    assert result.exit_code == 2
    assert "no second pH probe" in result.stderr


class RigAtHand:
    """A wired rig whose board shows what a simulated person's cups give, in that person's own time."""

    def __init__(self, cups: BufferCups) -> None:
        self.cups = cups
        self.told: list[str] = []

    def read(self) -> BoardImage:
        look = self.cups.read()
        return replace(
            BOARD_AT_REST, ph_mv=look.mv, ec_us_cm=look.us_cm, tank_c=look.temperature_c, second_ph_mv=None
        )

    def prompt(self, text: str, **extra: object) -> str:
        self.told.append(text)
        self.cups.put_into(next(label for label in ("7.00", "4.00", "1413") if f"into {label}" in text))
        return ""

    def monotonic(self) -> float:
        return self.cups.now_s

    def sleep(self, seconds: float) -> None:
        self.cups.wait(seconds)


BOARD_AT_REST = BoardImage(
    boot_id=1,
    uptime_ms=1,
    trips=frozenset(),
    first_trip=None,
    enabled=False,
    valve_open=False,
    open_id=0,
    high_float=False,
    leak=False,
    motion=Motion(channel=0, dose_id=0, target_count=0, count_done=0, running=False),
    ph_mv=None,
    ec_us_cm=None,
    tank_c=None,
    supply_c=None,
    level_mm=None,
    flow_pulses=0,
)


@pytest.fixture
def at_hand(monkeypatch: pytest.MonkeyPatch) -> RigAtHand:
    site = load_site(demo_site_folder())
    rig = RigAtHand(BufferCups(site, load_world(site), 1))
    monkeypatch.setattr(cups_at_hand, "time", rig)
    monkeypatch.setattr(cups_at_hand.click, "prompt", rig.prompt)
    monkeypatch.setattr("controller.cli.board.line.open_board", lambda *a: nullcontext(rig))
    monkeypatch.setattr("firmware_bridge.connect.connect", lambda link, wanted: None)
    return rig


def test_at_the_real_rig_a_person_is_led_through_the_bottles(at_hand: RigAtHand, tmp_path: Path) -> None:
    result = run(tmp_path / "state", "probe", "--json")
    assert result.exit_code == 0
    found = answer(result)
    assert found["slope_share"] == pytest.approx(0.976, abs=float(str(found["slope_uncertainty"])))
    first, second = at_hand.told
    assert first.startswith("Rinse the pH probe with clean water and blot it (do not rub).")
    assert "and the tank thermometer into 7.00" in first
    assert "into 4.00" in second


def test_a_second_probe_that_the_board_does_not_show_is_told(at_hand: RigAtHand, tmp_path: Path) -> None:
    result = run(tmp_path / "state", "probe", "--second")
    assert result.exit_code == 2
    assert "buffer 7.00: the board gives no reading" in result.stderr
    assert not (tmp_path / "state").exists()


def test_a_typed_temperature_stands_in_for_the_thermometer(at_hand: RigAtHand, tmp_path: Path) -> None:
    result = run(tmp_path / "state", "conductivity", "--temperature", "22", "--json")
    assert result.exit_code == 0
    (reading,) = answer(result)["readings"]  # type: ignore[misc]
    assert reading["temperature_c"] == 22.0
    assert "thermometer" not in at_hand.told[0]
