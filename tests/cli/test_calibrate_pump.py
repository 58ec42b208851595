"""`tankhand calibrate pump`: the whole guided procedure on a simulated rig, and weighings from a file."""

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from controller.measure.weighing_table import EXAMPLE, read_table
from controller.plan.delivery import delivery_rate_ml_min
from controller.record.events import Calibration, DoseIntent
from controller.record.journal import Journal
from controller.record.place import record_in
from controller.service import rig_file
from controller.service.certificates import keep_calibration
from controller.settings.load import demo_site_folder, load_site
from sim.desk import Desk
from sim.pumping.condition import SOUND
from sim.pumping.dosing import Dosing
from sim.pumping.pump import PeristalticPump
from sim.world import load_world

SITE = load_site(demo_site_folder())


def tankhand(*words: str, typed: str = "") -> Result:
    return CliRunner().invoke(main, list(words), input=typed)


def calibrated(state: Path, *words: str, pump: str = "kelp", seed: int = 1) -> dict[str, Any]:
    told = tankhand(
        "calibrate",
        "pump",
        pump,
        "--rig",
        "sim",
        "--seed",
        str(seed),
        "--state",
        str(state),
        "--json",
        *words,
    )
    assert told.exit_code == 0, told.stderr
    found: dict[str, Any] = json.loads(told.stdout)
    return found


def true_ml_per_count(name: str, seed: int) -> float:
    """What the simulated pump truly moves of water at its night's pace, from its own physics."""
    pump = SITE.rig.pumps[name]
    dosing = Dosing(SITE, load_world(SITE), seed)
    true, bottle = dosing.pumps[pump.channel], dosing.bottles[pump.channel]
    tubing = type(bottle.tubing)(
        bottle.tubing.holdup_ml, bottle.tubing.suction_m, 1.0, 1.0, bottle.tubing.lift_m
    )
    rollers_per_s = delivery_rate_ml_min(SITE, pump) / 60 / pump.ml_per_count / pump.counts_per_roller
    share = tubing.refilled_share(true.roller_ml, rollers_per_s, SOUND)
    return true.true_ml_per_count * PeristalticPump.wear_factor(true.counts) * share


@pytest.fixture
def site(tmp_path: Path) -> Path:
    copy = tmp_path / "site"
    shutil.copytree(demo_site_folder(), copy)
    return copy


@pytest.mark.parametrize(("name", "seeds"), [("kelp", range(1, 8)), ("citric", range(1, 4))])
def test_what_is_left_after_a_calibration_lies_within_the_stated_uncertainty(
    tmp_path: Path, name: str, seeds: range
) -> None:
    off = []
    for seed in seeds:
        found = calibrated(tmp_path / str(seed), pump=name, seed=seed)
        off.append(
            abs(found["per_count_ml"] - true_ml_per_count(name, seed)) / found["per_count_expanded_ml"]
        )
    # k = 2 is some 95 %: of so few at most one may be outside, and none by half as much more.
    assert sum(1 for share in off if share > 1.0) <= 1
    assert max(off) < 1.5


def test_nothing_falls_into_the_tank_and_every_delivery_is_on_record(tmp_path: Path) -> None:
    found = calibrated(tmp_path)
    with Journal(record_in(tmp_path)) as journal:
        intents = [row.event for row in journal.rows(DoseIntent)]
    weighed = [one for one in intents if one.purpose == "calibration"]
    assert [one.target_count for one in weighed] == [one["counts"] for one in found["deliveries"]]
    assert {one.purpose for one in intents} == {"prime", "calibration"}
    assert len(weighed) == 30


def test_counts_are_whole_rollers(tmp_path: Path) -> None:
    found = calibrated(tmp_path)
    assert all(one["counts"] % SITE.rig.pumps["kelp"].counts_per_roller == 0 for one in found["deliveries"])


def test_writing_changes_rig_toml_and_says_what_else_is_to_be_done(tmp_path: Path, site: Path) -> None:
    before = (site / "rig.toml").read_text()
    words = ("calibrate", "pump", "kelp", "--rig", "sim", "--site", str(site), "--state", str(tmp_path / "s"))
    told = tankhand(*words, "--write", "--by", "Mira")
    assert told.exit_code == 0, told.stderr
    after = load_site(site).rig.pumps["kelp"]
    assert after.ml_per_count != SITE.rig.pumps["kelp"].ml_per_count
    assert after.calibrated is not None
    assert "tankhand board limits write" in told.stderr
    (kept,) = site.glob("rig.toml.until-*")
    assert kept.read_text() == before
    assert "Mira" in tankhand("calibrate", "show", "--state", str(tmp_path / "s")).stdout


def test_without_a_yes_rig_toml_stays_as_it_is(tmp_path: Path, site: Path) -> None:
    before = (site / "rig.toml").read_bytes()
    calibrated(tmp_path / "state", "--site", str(site))
    assert (site / "rig.toml").read_bytes() == before


def test_the_demo_site_is_never_written(tmp_path: Path) -> None:
    told = tankhand("calibrate", "pump", "kelp", "--rig", "sim", "--state", str(tmp_path / "s"), "--write")
    assert told.exit_code == 2
    assert "name your own with --site" in told.stderr
    assert not (tmp_path / "s").exists()


def test_an_input_is_weighed_by_its_own_density(tmp_path: Path) -> None:
    found = calibrated(tmp_path, "--liquid", "input", "--density", "1.10 kg/L")
    assert found["density_kg_l"] == 1.1


def from_file(tmp_path: Path, text: str, *words: str) -> Result:
    table = tmp_path / "weighed.csv"
    table.write_text(text)
    state = str(tmp_path / "state")
    return tankhand("calibrate", "pump", "kelp", "--from-weighings", str(table), "--state", state, *words)


def test_weighings_from_a_file_give_the_same_certificate_page(tmp_path: Path) -> None:
    told = from_file(tmp_path, EXAMPLE, "--json")
    assert told.exit_code == 0, told.stderr
    found = json.loads(told.stdout)
    # 40.00 g on 800 counts at 20.6 °C by the published Z of 1.0030: 0.05015 mL a count.
    assert found["per_count_ml"] == pytest.approx(40.0 * 1.0030 / 800, rel=2e-3)
    page = tmp_path / "page.html"
    shown = tankhand("calibrate", "show", "kelp", "--state", str(tmp_path / "state"), "--html", str(page))
    assert shown.exit_code == 0, shown.stderr
    html = page.read_text()
    assert "Calibration of pump kelp" in html
    assert "http" not in html.replace("http-equiv", "")
    assert html.count("<tr>") >= 15 + 3 + 7


def test_a_slip_in_the_file_is_named_and_nothing_is_kept(tmp_path: Path) -> None:
    told = from_file(tmp_path, EXAMPLE.replace("400,20.01", "400,200.1"))
    assert told.exit_code == 2
    assert "line 11" in told.stderr
    assert "ten times too large" in told.stderr
    assert not record_in(tmp_path / "state").exists()


def test_a_pump_that_fails_its_limits_is_kept_on_record_and_never_written(tmp_path: Path, site: Path) -> None:
    before = (site / "rig.toml").read_bytes()
    lines = [line.split(",") for line in EXAMPLE.splitlines() if line[0].isdigit()]
    worn = "\n".join(f"{counts},{float(grams) * 0.88:.2f}" for counts, grams, *_ in lines)
    told = from_file(tmp_path, f"counts,grams\n{worn}\n", "--site", str(site), "--write")
    assert told.exit_code == 1
    assert "NOT PASSED" in told.stdout
    assert "Limit exceeded: the pump gives" in told.stdout
    assert (site / "rig.toml").read_bytes() == before
    assert "not passed" in tankhand("calibrate", "show", "--state", str(tmp_path / "state")).stdout


def test_a_file_with_a_mark_is_written_to_the_digits_of_its_doubt(tmp_path: Path, site: Path) -> None:
    rig = site / "rig.toml"
    rig.write_bytes(b"\xef\xbb\xbf" + rig.read_bytes())
    told = from_file(tmp_path, EXAMPLE, "--site", str(site), "--write")
    assert told.exit_code == 0, told.stderr
    assert load_site(site).rig.pumps["kelp"].calibrated is not None
    text = rig.read_text(encoding="utf-8-sig")
    (written,) = (line for line in text.splitlines() if line.startswith("per_count") and "0.0501" in line)
    # Two digits of some 0.00006 mL: six decimals and no more.
    assert len(written.split(".")[1].split(" ")[0]) == 6


def test_a_rig_file_that_cannot_be_rewritten_is_told_before_anything_moves_or_is_on_record(
    tmp_path: Path, site: Path, mocker
) -> None:
    mocker.patch.object(rig_file.tomlkit, "dumps", return_value="[tank]\n")
    from_a_table = from_file(tmp_path, EXAMPLE, "--site", str(site), "--write")
    words = ("calibrate", "pump", "kelp", "--rig", "sim", "--site", str(site), "--state", str(tmp_path / "s"))
    weighed_now = tankhand(*words, "--write")
    for told in (from_a_table, weighed_now):
        assert told.exit_code != 0
        assert "by hand" in told.stderr
    assert not record_in(tmp_path / "state").exists()
    assert not record_in(tmp_path / "s").exists()


def test_a_start_that_cannot_be_told_from_nothing_is_not_written(tmp_path: Path) -> None:
    page = json.loads(from_file(tmp_path, EXAMPLE, "--json").stdout)
    assert abs(page["start_ml"]) < page["start_expanded_ml"]
    assert "start" not in page["writes"]
    assert any("told from nothing" in note for note in page["notes"])
    more = "\n".join(
        f"{line.split(',')[0]},{float(line.split(',')[1]) + 0.25:.2f}"
        for line in EXAMPLE.splitlines()
        if line[0].isdigit()
    )
    page = json.loads(from_file(tmp_path, f"counts,grams\n{more}\n", "--json").stdout)
    assert float(page["writes"]["start"].removesuffix(" mL")) == pytest.approx(0.25, abs=0.04)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (EXAMPLE.encode("utf-16"), "UTF-16"),
        (bytes(range(256)), "it is no text"),
        (None, "there is no such file; check how it is spelled"),
    ],
)
def test_a_file_that_is_no_table_is_named_as_what_it_is(
    tmp_path: Path, content: bytes | None, words: str
) -> None:
    table = tmp_path / "weighed.csv"
    if content is not None:
        table.write_bytes(content)
    state = str(tmp_path / "state")
    told = tankhand("calibrate", "pump", "kelp", "--from-weighings", str(table), "--state", state)
    assert (told.exit_code, words in told.stderr) == (2, True), told.stderr


def test_the_typed_weights_are_kept_and_give_the_same_calibration_again(tmp_path: Path) -> None:
    first = calibrated(tmp_path)
    (table,) = tmp_path.glob("weighings-kelp-*.csv")
    again = tankhand(
        "calibrate", "pump", "kelp", "--from-weighings", str(table), "--state", str(tmp_path), "--json"
    )
    assert again.exit_code == 0, again.stderr
    assert json.loads(again.stdout)["per_count_ml"] == first["per_count_ml"]


def test_weights_typed_before_somebody_stops_are_kept_and_named(tmp_path: Path, mocker) -> None:
    typed = Desk.weigh

    def stops(self: Desk, number: int, of: int, expected_g: float) -> str:
        if number == 4:
            raise KeyboardInterrupt
        return typed(self, number, of, expected_g)

    mocker.patch.object(Desk, "weigh", stops)
    told = tankhand("calibrate", "pump", "kelp", "--rig", "sim", "--state", str(tmp_path))
    assert told.exit_code != 0
    (table,) = tmp_path.glob("weighings-kelp-*.csv")
    assert len(read_table(table.read_text(), "kept")) == 3
    assert "--from-weighings takes them" in told.stderr
    assert table.name in told.stderr


def test_show_finds_an_item_by_a_word_of_it_and_writes_plain_numbers(tmp_path: Path) -> None:
    moment = datetime(2026, 11, 25, tzinfo=UTC)
    for item, unit in (("second ph probe", "slope share"), ("ph probe", "slope share")):
        found = Calibration(item, "Mira", True, 0.985, unit, 9.9e-05, "")
        keep_calibration(tmp_path, moment, found)
    told = tankhand("calibrate", "show", "probe", "--state", str(tmp_path))
    assert told.stdout.startswith("ph probe: 98.5000 ± 0.0099 % of the full slope")
    assert "second" in tankhand("calibrate", "show", "second", "--state", str(tmp_path)).stdout
    assert "e-0" not in tankhand("calibrate", "show", "--state", str(tmp_path)).stdout


def test_the_page_shows_weights_as_they_were_typed(tmp_path: Path) -> None:
    from_file(tmp_path, EXAMPLE)
    page = tmp_path / "page.html"
    tankhand("calibrate", "show", "kelp", "--state", str(tmp_path / "state"), "--html", str(page))
    assert "4.80 g" in page.read_text()


def test_the_example_is_printed_and_the_help_names_the_columns() -> None:
    assert tankhand("calibrate", "pump", "--example").stdout == EXAMPLE
    assert "grams: net weight" in " ".join(tankhand("calibrate", "pump", "--help").stdout.split())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("kelpp",), 'the nearest is "kelp"'),
        (("kelp", "--density", "1.2 kg/L"), "The density of water is known"),
        (("rinse_water", "--liquid", "input"), "rinse_water draws water"),
        (("kelp", "--deliveries", "4"), "5<=x<=30"),
        (("kelp", "--air-pressure", "101.3"), "600<=x<=1100"),
        (("kelp", "--liquid-temperature", "50 °C"), "between 1 and 40"),
        (("kelp", "--from-weighings", "/nowhere.csv"), "nowhere.csv"),
    ],
)
def test_a_slip_in_the_options_is_one_clear_line(tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    answer = tankhand("calibrate", "pump", *words, "--state", str(tmp_path / "s"), "--rig", "sim")
    assert answer.exit_code == 2
    assert told in answer.stderr
    assert "Traceback" not in answer.stderr


def test_a_person_is_shown_the_cautions_and_may_leave_before_anything_opens(tmp_path: Path) -> None:
    told = tankhand("calibrate", "pump", "kelp", "--state", str(tmp_path / "s"), typed="n\n")
    assert told.exit_code == 1
    for words in ("emergency stop", "rollers", "beaker", "into the tank", "gloves", "night cap"):
        assert words in " ".join(told.stderr.lower().split())
    assert not (tmp_path / "s").exists()
