"""`tankhand simulate --fault`: what can break, named and timed; anything else is refused by name."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from controller.cli import main
from sim.faults import FAULTS
from sim.faults.book import FAMILIES


def test_a_fault_at_its_moment_ends_the_night_for_its_reason(tmp_path: Path) -> None:
    asked = ["simulate", "--json", "--state", str(tmp_path), "--fault", "leak@300"]
    answer = CliRunner().invoke(main, asked)
    told = json.loads(answer.stdout)
    assert (told["result"], told["reason"], told["released"]) == ("aborted", "leak", False)
    assert told["alarms"][0]["at_s"] == pytest.approx(300, abs=5)
    assert all(alarm["remedy"] for alarm in told["alarms"])
    assert answer.exit_code != 0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("leek@300", "did you mean 'leak'?"),
        ("blocked@300", "'blocked': say what it strikes: blocked:INPUT"),
        ("blocked:mollases@300", "did you mean blocked:molasses?"),
        ("leak:molasses@300", "there is but one thing to strike; write leak"),
        ("frames-lost:200@300", "whole number from 1 to 100"),
        ("scale-lost:shelf_oen@300", "did you mean scale-lost:shelf_one?"),
        ("scale-lost@300", "'scale-lost': say what it strikes: scale-lost:SCALE"),
        ("probe-lost:secnd@300", "did you mean probe-lost:second?"),
        ("probe-lost:@300", "say what it strikes: probe-lost[:second]"),
        ("blocked:molasses", "e.g. blocked:molasses@900"),
        ("leak", "'leak'"),
        ("leak@", "number of seconds"),
        ("leak@soon", "number of seconds"),
        ("leak@-1", "number of seconds"),
        ("leak@nan", "number of seconds"),
        ("@5", "no such fault"),
    ],
)
def test_a_wrong_fault_is_refused_by_name(tmp_path: Path, text: str, says: str) -> None:
    answer = CliRunner().invoke(main, ["simulate", "--state", str(tmp_path / "none"), "--fault", text])
    assert answer.exit_code == 2
    assert says in answer.stderr
    assert not (tmp_path / "none").exists()


def test_the_list_names_every_fault_by_family_with_its_words() -> None:
    answer = CliRunner().invoke(main, ["simulate", "--fault", "list"])
    lines = answer.stdout.splitlines()
    assert answer.exit_code == 0
    told = [line.split(maxsplit=1) for line in lines if line.startswith("  ")]
    assert [re.split(r"[:\[]", form)[0] for form, _ in told] == list(FAULTS)
    assert [line.removesuffix(":") for line in lines if line.endswith(":")] == list(FAMILIES)
    assert all(words.endswith(".") and "{" not in words for _, words in told)
    for form in ("blocked:INPUT", "scale-lost:SCALE", "probe-lost[:second]", "SCALE is the name of a scale"):
        assert form in answer.stdout


def test_a_fault_of_one_input_strikes_and_is_told(tmp_path: Path) -> None:
    asked = ["simulate", "--json", "--state", str(tmp_path), "--fault", "split:fish_hydrolysate@100"]
    answer = CliRunner().invoke(main, asked)
    told = json.loads(answer.stdout)
    assert (told["result"], told["reason"], told["violations"]) == ("aborted", "leak", [])
