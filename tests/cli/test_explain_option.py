"""`tankhand simulate --explain FILE`: the page of this very night, and a place proven before it."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from controller.cli import main


def simulate(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["simulate", "--recipe", "plain_flush", *(str(word) for word in words)])


@pytest.fixture(autouse=True)
def state_home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "home"))


def test_the_page_is_written_and_named_and_a_file_that_is_there_is_replaced(tmp_path: Path):
    place = tmp_path / "night.html"
    place.write_text("old and much longer\n" * 100_000)
    result = simulate("--state", tmp_path / "state", "--explain", place)
    assert result.exit_code == 0, result.stderr
    page = place.read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>")
    assert page.endswith("</html>\n")
    assert "old and much longer" not in page
    assert "true against measured" in page
    assert f"True against measured: {place}" in result.stdout


def test_json_stays_alone_on_stdout_and_is_the_same_with_and_without_the_page(tmp_path: Path):
    plain = simulate("--json", "--state", tmp_path / "a")
    told = simulate("--json", "--state", tmp_path / "b", "--explain", tmp_path / "night.html")
    numbers = [json.loads(result.stdout) for result in (plain, told)]
    for one in numbers:
        del one["wall_s"]
    assert numbers[0] == numbers[1]
    assert told.stdout.count("\n") == 1
    assert "night.html" in told.stderr


def test_a_place_that_cannot_be_written_is_refused_before_the_night(tmp_path: Path):
    result = simulate("--explain", tmp_path / "missing" / "night.html")
    assert result.exit_code == 2
    assert "night.html" in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "home").exists()


def test_a_folder_is_no_file(tmp_path: Path):
    result = simulate("--explain", tmp_path)
    assert result.exit_code == 2
    assert "is a directory" in result.stderr
    assert not (tmp_path / "home").exists()


def test_both_pages_in_one_file_are_refused_and_leave_the_file_alone(tmp_path: Path):
    place = tmp_path / "night.html"
    place.write_text("mine")
    result = simulate("--explain", place, "--report", tmp_path / "." / "night.html")
    assert result.exit_code == 2
    assert "give each a file of its own" in result.stderr
    assert place.read_text() == "mine"
    assert not (tmp_path / "home").exists()


def test_a_night_that_is_refused_leaves_no_empty_page_behind(tmp_path: Path):
    result = simulate("--fault", "selector-off@0", "--explain", tmp_path / "night.html")
    assert result.exit_code == 3
    assert not (tmp_path / "night.html").exists()


def test_a_night_that_ended_badly_has_its_page_and_its_exit_code(tmp_path: Path):
    result = simulate("--fault", "estop-pressed@200", "--explain", tmp_path / "night.html")
    assert result.exit_code == 1
    assert "The emergency stop was pressed" in (tmp_path / "night.html").read_text(encoding="utf-8")
