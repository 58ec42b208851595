"""rig.toml is changed key by key, proven by loading the site, and replaced in one step."""

import os
import shutil
import stat
import tomllib
from datetime import date
from pathlib import Path

import pytest

from controller.service import rig_file
from controller.service.rig_file import check_rewrite, quantity_text, rewrite_rig, with_changes
from controller.settings.faults import SiteFaults
from controller.settings.load import demo_site_folder, load_site

TODAY = date(2026, 11, 25)
KELP = ("pumps", "kelp")
NEW = {(*KELP, "per_count"): "0.051234 mL/count", (*KELP, "calibrated"): TODAY, (*KELP, "start"): "-0.02 mL"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy = tmp_path / "site"
    shutil.copytree(demo_site_folder(), copy)
    return copy


def test_only_the_lines_of_the_changed_keys_differ(folder: Path) -> None:
    before = (folder / "rig.toml").read_text().splitlines()
    rewrite_rig(folder, NEW, TODAY)
    after = (folder / "rig.toml").read_text().splitlines()
    assert set(after) - set(before) == {
        'per_count = "0.051234 mL/count"',
        f"calibrated = {TODAY}",
        'start = "-0.02 mL"',
    }
    comments = [[line for line in text if line.startswith("#")] for text in (before, after)]
    assert comments[0] == comments[1]
    assert len(after) == len(before) + 1


def test_the_new_key_stands_in_its_own_table_and_before_the_blank_line(folder: Path) -> None:
    rewrite_rig(folder, NEW, TODAY)
    lines = (folder / "rig.toml").read_text().splitlines()
    place = lines.index('start = "-0.02 mL"')
    assert lines[place - 1]
    assert not lines[place + 1]
    assert lines.index("[pumps.kelp]") < place < lines.index("[pumps.molasses]")


def test_the_site_loads_with_what_was_written(folder: Path) -> None:
    rewrite_rig(folder, NEW, TODAY)
    pump = load_site(folder).rig.pumps["kelp"]
    assert (pump.ml_per_count, pump.start_ml, pump.calibrated) == (0.051234, -0.02, TODAY)


def test_the_old_file_is_kept_byte_for_byte_and_never_overwritten(folder: Path) -> None:
    before = (folder / "rig.toml").read_bytes()
    first = rewrite_rig(folder, NEW, TODAY)
    second = rewrite_rig(folder, {(*KELP, "per_count"): "0.06 mL/count"}, TODAY)
    assert first != second
    assert first.read_bytes() == before
    assert b"0.051234" in second.read_bytes()


def test_what_the_site_cannot_load_with_changes_nothing(folder: Path) -> None:
    before = (folder / "rig.toml").read_bytes()
    with pytest.raises(SiteFaults, match="per_count"):
        rewrite_rig(folder, {(*KELP, "per_count"): "five"}, TODAY)
    assert (folder / "rig.toml").read_bytes() == before
    assert sorted(path.name for path in folder.glob("*rig*")) == ["rig.toml"]


def test_a_write_that_fails_leaves_the_old_file_whole(folder: Path, mocker) -> None:
    before = (folder / "rig.toml").read_bytes()
    mocker.patch.object(os, "fsync", side_effect=OSError(28, "No space left on device"))
    with pytest.raises(OSError, match="No space") as failed:
        rewrite_rig(folder, NEW, TODAY)
    assert str(failed.value.filename).startswith(str(folder))
    assert (folder / "rig.toml").read_bytes() == before
    assert sorted(path.name for path in folder.glob("*rig*")) == ["rig.toml"]


def test_the_old_permissions_stay(folder: Path) -> None:
    (folder / "rig.toml").chmod(0o640)
    rewrite_rig(folder, NEW, TODAY)
    assert stat.S_IMODE((folder / "rig.toml").stat().st_mode) == 0o640


def test_line_ends_and_a_comment_behind_a_value_stay() -> None:
    text = "[pumps.kelp] # by the door\r\nper_count = 'a' # weighed\r\n\r\n# fish\r\n[pumps.fish]\r\n"
    changed = with_changes(text, {(*KELP, "per_count"): "0.06 mL/count", (*KELP, "start"): "0.1 mL"})
    assert "# weighed\r\n" in changed
    assert "# by the door\r\n" in changed
    kelp = {"per_count": "0.06 mL/count", "start": "0.1 mL"}
    assert tomllib.loads(changed)["pumps"] == {"kelp": kelp, "fish": {}}
    assert changed.index("start") < changed.index("# fish")


def test_a_byte_order_mark_stays_and_added_lines_end_as_the_others(folder: Path) -> None:
    place = folder / "rig.toml"
    text = place.read_text().replace("\n", "\r\n")
    place.write_bytes(("\ufeff" + text).encode())
    kept = rewrite_rig(folder, NEW, TODAY)
    after = place.read_bytes()
    assert kept.read_bytes() == ("\ufeff" + text).encode()
    assert after.startswith(b"\xef\xbb\xbf")
    assert after.count(b"\n") == after.count(b"\r\n") == text.count("\n") + 1
    assert load_site(folder).rig.pumps["kelp"].start_ml == -0.02


def test_trying_a_change_changes_nothing_and_raises_what_the_change_would(folder: Path, mocker) -> None:
    before = sorted((path.name, path.read_bytes()) for path in folder.iterdir() if path.is_file())
    check_rewrite(folder, NEW)
    with pytest.raises(SiteFaults, match="per_count"):
        check_rewrite(folder, {(*KELP, "per_count"): "five"})
    mocker.patch.object(rig_file.tempfile, "TemporaryFile", side_effect=PermissionError(13, "denied"))
    with pytest.raises(PermissionError):
        check_rewrite(folder, NEW)
    assert sorted((path.name, path.read_bytes()) for path in folder.iterdir() if path.is_file()) == before


def test_a_table_that_lacks_is_made(folder: Path) -> None:
    changed = with_changes("[tank]\nbrim = '2 L'\n", {("conductivity_cell", "factor"): 1.01})
    assert tomllib.loads(changed) == {"tank": {"brim": "2 L"}, "conductivity_cell": {"factor": 1.01}}


def test_inline_and_dotted_tables_and_tables_that_stand_apart_take_a_change() -> None:
    dotted = "pumps.kelp.per_count = 'a'\npumps.kelp.channel = 1\n"
    inline = "pumps = { kelp = { per_count = 'a', channel = 1 } }\n"
    apart = "[pumps.kelp]\nper_count = 'a'\nchannel = 1\n[tank]\nbrim = 1\n[pumps.fish]\nchannel = 2\n"
    for text in (dotted, inline, apart):
        changed = with_changes(text, {(*KELP, "per_count"): "b"})
        assert tomllib.loads(changed)["pumps"]["kelp"] == {"per_count": "b", "channel": 1}


def test_what_cannot_be_changed_by_itself_is_left_to_a_person() -> None:
    with pytest.raises(SiteFaults, match="by hand"):
        with_changes("pumps = 3\n", {(*KELP, "per_count"): "b"})


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0512345678, "0.051235 mL"), (12.3456789, "12.346 mL"), (-0.02, "-0.020000 mL"), (0.0, "0 mL")],
)
def test_numbers_are_written_without_an_exponent(value: float, text: str) -> None:
    assert quantity_text(value, "mL") == text


def test_a_number_is_written_to_two_digits_of_its_doubt() -> None:
    assert quantity_text(0.0512345678, "mL", 0.000098) == "0.051235 mL"
    assert quantity_text(0.1234, "mL", 0.033) == "0.123 mL"
    assert quantity_text(123.4, "mL", 20.0) == "123 mL"


def test_a_change_that_touches_something_else_is_refused(mocker) -> None:
    mocker.patch.object(rig_file.tomlkit, "dumps", return_value="[tank]\nbrim = '3 L'\n")
    with pytest.raises(SiteFaults, match="by hand"):
        with_changes("[tank]\nbrim = '2 L'\n", {("tank", "working"): "1 L"})
