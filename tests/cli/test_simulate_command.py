"""`tankhand simulate`: what it asks of the night, what it shows, and how it stops and exits.

The night is a stand-in here, so that every ending can be had at will, and it keeps a short but real record;
the real night is tried in `test_whole_night_command.py`.
"""

import io
import json
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from click.testing import CliRunner, Result
from rich.console import Console

from controller.cli import main
from controller.cli import simulate as simulate_file
from controller.cli.errors import EXIT_CODES
from controller.cli.progress import BAR_WIDTH, BarFeed, bar_on, progress_shown, share_done, step_line
from controller.cli.stop import NOTHING_BEGUN, stop_on_ctrl_c
from controller.plan.findings import PlanRefused, Refusal, Rule
from controller.record.batch_record import BatchRecord, read_batch
from controller.record.events import AnyEvent, BatchEnded, BatchStarted, Reading
from controller.record.journal import Journal
from controller.record.place import record_in
from controller.record.report import report_html
from controller.record.tables import entry

JSON = {
    "result": "complete",
    "reason": "",
    "additions": [{"input": "seaweed", "target_ml": 360.0, "recorded_ml": 359.8, "true_ml": 361.24}],
    "volume_l": {"target": 180.0, "true": 180.31},
    "ph": {"start": 7.41, "final": 6.12, "true": 6.08, "trims": 2, "rebound": 0.04},
    "ec_us_cm": 812.4,
    "released": True,
    "duration_s": 5412.0,
    "floor_s": 4200.0,
    "warnings": [],
    "faults": [],
    "alarms": [],
    "violations": [],
    "simulated_s": 35_340.0,
    "wall_s": 1.25,
}


@dataclass(frozen=True)
class Outcome:
    told: dict[str, Any]
    record: BatchRecord
    record_path: Path
    batch: int = 7

    @property
    def result(self) -> str:
        return str(self.told["result"])

    @property
    def violations(self) -> list[object]:
        return list(self.told["violations"])

    def as_json(self) -> dict[str, Any]:
        return self.told


@dataclass(frozen=True)
class Progress:
    now_s: float = 600.0
    step_number: int = 3
    steps: int = 40
    kind: str = "fill"
    title: str = "Fill to 135.0 L"
    left_s: float = 4800.0
    level_l: float | None = 88.25
    ph: float | None = None


def recorded(path: Path, told: dict[str, Any]) -> BatchRecord:
    """Keep the shortest record of a night that ended as told."""
    at = datetime(2026, 12, 1, 2, 30, tzinfo=UTC)
    events: list[AnyEvent] = [
        BatchStarted(7, "fruiting", "Fruiting feed", 180.0, 0.0, 5.8, 6.3, 4140.0, "{}"),
        Reading(7, 1, 180.0, 6.12, 18.4, 812.4, True),
    ]
    if told["result"] != "unknown":
        events.append(BatchEnded(7, told["result"], told["reason"], told["released"]))
    with Journal(path) as journal:
        journal.append(
            [entry(60.0 * place, at + timedelta(minutes=place), event) for place, event in enumerate(events)]
        )
    return read_batch(path, 7)


class Night:
    """Stands in for the night: notes what it was asked and ends as it was told to."""

    def __init__(self) -> None:
        self.ending = dict(JSON)
        self.asked: list[tuple[Any, ...]] = []
        self.meanwhile: Callable[[], None] = lambda: None
        self.saw_stop = False

    def run_night(
        self,
        site: Any,
        recipe: Any,
        seed: Any,
        state: Any,
        on_progress: Any,
        should_stop: Any,
        faults: Any,
        board: Any,
        traced: Any,
    ) -> Outcome:
        self.asked.append((site.policy.name, recipe, seed, state, on_progress))
        self.meanwhile()
        self.saw_stop = should_stop()
        path = record_in(state)
        return Outcome(self.ending, recorded(path, self.ending), path)


@pytest.fixture
def night(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Night:
    stand_in, module = Night(), ModuleType("sim.night")
    module.run_night = stand_in.run_night  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "sim.night", module)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return stand_in


def simulate(*words: str) -> Result:
    return CliRunner().invoke(main, ["simulate", *words])


def test_json_is_the_only_thing_on_stdout(night: Night):
    result = simulate("--json")
    assert json.loads(result.stdout) == JSON
    assert result.stdout.count("\n") == 1
    assert result.exit_code == 0


def test_the_table_shows_every_number_with_its_unit(night: Night):
    result = simulate()
    assert result.stdout.startswith("RELEASED AS FIT TO FEED. Because: settled and steady at pH 6.12, inside")
    for words in (
        "360.0 mL", "359.8 mL", "361.2 mL", "180.0 L", "180.3 L", "pH 7.41", "pH 6.12", "pH 6.08",
        "+0.04 pH", "812 µS/cm", "1 h 30 min", "1 h 10 min", "1.2 s", "Alarms: none", "batch 7",
    ):  # fmt: skip
        assert words in result.stdout, words


@pytest.mark.parametrize(
    ("simulated_s", "wall_s", "words"),
    [
        (35_340.0, 2.9, "12,000 times real time"),
        (35_340.0, 61.0, "580 times real time"),
        (300.0, 95.0, "3.2 times real time"),
    ],
)
def test_the_table_says_how_much_faster_than_real_time_it_was(
    night: Night, simulated_s: float, wall_s: float, words: str
):
    night.ending |= {"simulated_s": simulated_s, "wall_s": wall_s}
    assert f" {words}" in simulate().stdout


def test_a_night_that_took_no_time_has_no_speed(night: Night):
    night.ending |= {"wall_s": 0.0}
    assert "times real time" not in simulate().stdout


def test_the_table_names_the_command_that_reads_the_record(night: Night, tmp_path: Path):
    place = tmp_path / "two words"
    result = simulate("--state", str(place))
    assert f"tankhand record report 7 --state '{place}'" in result.stdout
    assert night.asked[0][3] == place


def test_a_program_that_no_shell_would_find_is_named_by_its_place(
    night: Night, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", ["/far away/.venv/bin/tankhand", "simulate"])
    monkeypatch.setenv("PATH", str(tmp_path))
    assert "Read it: '/far away/.venv/bin/tankhand' record report 7" in simulate("--state", "a").stdout
    (tmp_path / "tankhand").touch(mode=0o755)
    assert "Read it: tankhand record report 7" in simulate("--state", "b").stdout


def test_the_record_goes_to_the_state_home_when_no_place_is_named(night: Night, tmp_path: Path):
    simulate()
    assert night.asked[0][3] == tmp_path / "state" / "tankhand" / "simulated"
    assert night.asked[0][3].is_dir()


def test_a_state_home_that_is_not_absolute_is_passed_over(
    night: Night, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    # XDG Base Directory Specification: relative paths are invalid and to be ignored.
    monkeypatch.setenv("XDG_STATE_HOME", "here")
    monkeypatch.setenv("HOME", str(tmp_path))
    simulate()
    assert night.asked[0][3] == tmp_path / ".local" / "state" / "tankhand" / "simulated"


def test_recipe_and_seed_reach_the_night(night: Night):
    from controller.settings.load import demo_site_folder, load_site

    site = load_site(demo_site_folder())
    recipe = sorted(site.recipes)[-1]
    simulate("--recipe", recipe, "--seed", "42")
    assert night.asked[0][1:3] == (recipe, 42)


def test_the_recipe_of_the_schedules_first_night_is_mixed_when_none_is_named(night: Night):
    from controller.settings.load import demo_site_folder, load_site

    simulate()
    assert night.asked[0][1:3] == (load_site(demo_site_folder()).policy.nights[0].recipe, 1)


@pytest.mark.parametrize(
    ("result", "released", "code"),
    [
        ("complete", True, 0),
        ("stopped", False, 3),
        ("stopped", True, 3),
        ("aborted", True, 1),
        ("aborted", False, 1),
        ("unknown", False, 1),
    ],
)
def test_the_exit_code_tells_the_ending(night: Night, result: str, released: bool, code: int):
    night.ending |= {"result": result, "released": released, "reason": "pH 7.2 is above the window"}
    ended = simulate()
    assert ended.exit_code == code
    if code:
        assert f"duration to {'release' if released else 'the end'} " in ended.stdout
        verdict = "RELEASED, THEN WITHDRAWN: DO NOT FEED. " if released else "NOT RELEASED"
        assert ended.stdout.startswith(verdict)
        assert "DO NOT FEED" in ended.stdout
        assert ("pH 7.2 is above the window" in ended.stdout) is (result != "unknown")


def test_the_verdict_is_the_one_that_the_record_gives_of_the_same_batch(night: Night, tmp_path: Path):
    night.ending |= {"result": "stopped", "released": True, "reason": "pH has moved to 6.9"}
    verdict = simulate("--state", str(tmp_path / "kept")).stdout.splitlines()[0]
    shown = CliRunner().invoke(main, ["record", "show", "7", "--state", str(tmp_path / "kept")])
    assert verdict in shown.stdout.splitlines()


def test_the_exit_codes_are_worded_alike_wherever_they_are_told():
    def told(*words: str) -> str:
        return " ".join(CliRunner().invoke(main, [*words, "--help"]).stdout.split())

    assert EXIT_CODES in told()
    assert EXIT_CODES in told("simulate")


def test_numbers_that_are_missing_are_said_to_be_missing(night: Night):
    night.ending |= {
        "ph": dict.fromkeys(("start", "final", "true", "rebound")) | {"trims": 0},
        "ec_us_cm": None,
    }
    assert simulate().stdout.count("no reading") == 5


def test_alarms_and_broken_laws_are_shown(night: Night):
    night.ending |= {
        "alarms": [{"at_s": 95.0, "alarm": "stock low", "text": "40 mL left.", "remedy": "Refill it."}],
        "violations": [{"law": 3, "at_s": 3600.0, "text": "over the brim"}],
    }
    shown = simulate().stdout
    assert "Alarm at 1 min 35 s: stock low: 40 mL left. Refill it.\n" in shown
    assert "Safety law 3 broken at 1 h 00 min: over the brim" in shown


def test_a_broken_law_stands_under_the_verdict_and_fails_the_night(night: Night):
    night.ending |= {"violations": [{"law": 12, "at_s": 3600.0, "text": "a doubtful tank is fed"}]}
    ended = simulate()
    assert ended.stdout.splitlines()[1] == "Safety law 12 broken at 1 h 00 min: a doubtful tank is fed"
    assert ended.exit_code == 1


def test_what_was_broken_on_purpose_is_told_and_what_came_too_late(night: Night):
    night.ending |= {
        "faults": [
            {"at_s": 1800.0, "name": "stir-dead", "struck": True},
            {"at_s": 40_000.0, "name": "leak", "struck": False},
        ]
    }
    shown = simulate().stdout
    assert "Broken on purpose at 30 min 00 s: stir-dead\n" in shown
    assert "Not broken: leak was to strike at 11 h 06 min, after the night's end\n" in shown


@pytest.mark.parametrize(
    ("ended", "released", "code"),
    [("stopped", False, 1), ("stopped", True, 1), ("aborted", False, 1), ("complete", True, 0)],
)
def test_ctrl_c_asks_the_night_to_stop_and_exits_1_unless_it_came_too_late(
    night: Night, ended: str, released: bool, code: int, capfd: pytest.CaptureFixture[str]
):
    night.ending |= {"result": ended, "released": released, "reason": "all outputs off"}
    night.meanwhile = lambda: os.kill(os.getpid(), signal.SIGINT)
    result = simulate()
    assert night.saw_stop
    assert result.exit_code == code
    assert "Stopping safely" in capfd.readouterr().err
    assert f"You asked for a stop: the batch is {ended}" in result.stderr


def test_a_second_ctrl_c_breaks_off(night: Night):
    def press_twice() -> None:
        os.kill(os.getpid(), signal.SIGINT)
        os.kill(os.getpid(), signal.SIGINT)

    night.meanwhile = press_twice
    result = simulate()
    assert result.exit_code == 1
    assert result.stdout == ""
    assert result.stderr.splitlines()[-1].startswith("Broken off at once")


def test_ctrl_c_while_the_site_is_read_says_that_nothing_was_begun(
    night: Night, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    def pressed(_folder: Path | None) -> None:
        os.kill(os.getpid(), signal.SIGINT)

    monkeypatch.setattr(simulate_file, "load_chosen_site", pressed)
    result = simulate()
    assert (result.exit_code, result.stdout, result.stderr) == (1, "", f"{NOTHING_BEGUN}\n")
    assert night.asked == []
    assert not (tmp_path / "state").exists()


def test_ctrl_c_just_before_the_night_says_that_nothing_was_begun(
    night: Night, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    @contextmanager
    def pressed() -> Iterator[None]:
        os.kill(os.getpid(), signal.SIGINT)
        yield

    monkeypatch.setattr(simulate_file, "progress_shown", pressed)
    result = simulate()
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.splitlines()[-1] == NOTHING_BEGUN
    assert night.asked == []
    assert not (tmp_path / "state").exists()


def test_the_seed_is_called_a_whole_number(night: Night):
    assert "'x' is not a valid whole number." in simulate("--seed", "x").stderr


def test_ctrl_c_is_given_back_after_the_night():
    before = signal.getsignal(signal.SIGINT)
    with stop_on_ctrl_c() as stop:
        assert signal.getsignal(signal.SIGINT) == stop.on_signal
    assert signal.getsignal(signal.SIGINT) is before


def test_a_recipe_that_is_not_there_names_the_nearest_and_writes_nothing(night: Night, tmp_path: Path):
    from controller.settings.load import demo_site_folder, load_site

    recipe = sorted(load_site(demo_site_folder()).recipes)[0]
    result = simulate("--recipe", f"{recipe}x")
    assert result.exit_code == 2
    assert f'the nearest is "{recipe}"' in result.stderr
    assert not (tmp_path / "state").exists()
    assert night.asked == []


def test_a_faulty_site_writes_nothing_and_runs_nothing(night: Night, tmp_path: Path):
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "rig.toml").write_bytes(b"\x00\xff")
    result = simulate("--site", str(tmp_path / "site"))
    assert result.exit_code == 2
    assert "rig.toml" in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "state").exists()
    assert night.asked == []


def test_a_state_that_is_a_file_is_named(night: Night, tmp_path: Path):
    (tmp_path / "taken").write_text("")
    result = simulate("--state", str(tmp_path / "taken"))
    assert result.exit_code == 2
    assert str(tmp_path / "taken") in result.stderr
    assert night.asked == []


def test_a_report_that_cannot_be_written_is_refused_before_the_night(night: Night, tmp_path: Path):
    result = simulate("--report", str(tmp_path / "missing" / "night.html"))
    assert result.exit_code == 2
    assert "night.html" in result.stderr
    assert night.asked == []


def test_the_report_is_the_page_of_this_nights_batch(night: Night, tmp_path: Path):
    result = simulate("--json", "--report", str(tmp_path / "night.html"), "--state", str(tmp_path))
    assert (result.exit_code, json.loads(result.stdout)) == (0, JSON)
    record = read_batch(record_in(tmp_path), 7)
    assert (tmp_path / "night.html").read_text(encoding="utf-8") == report_html(record)
    assert "night.html" in result.stderr


def test_a_refused_night_leaves_no_empty_report_behind(night: Night, tmp_path: Path):
    night.meanwhile = lambda: (_ for _ in ()).throw(PermissionError(13, "Permission denied", "/x/record"))
    result = simulate("--report", str(tmp_path / "night.html"))
    assert result.exit_code == 2
    assert result.stderr.startswith("/x/record: Permission denied; ")
    assert not (tmp_path / "night.html").exists()


def test_a_night_that_is_refused_leaves_no_folder_behind_and_one_that_was_there_stays(
    night: Night, tmp_path: Path
):
    night.meanwhile = lambda: (_ for _ in ()).throw(
        PlanRefused((Refusal(Rule.HEEL, "heel", "90 L", "drain"),))
    )
    (tmp_path / "there").mkdir()
    for place in (tmp_path / "there", tmp_path / "new" / "state"):
        assert simulate("--state", str(place)).exit_code == 2
    assert len(night.asked) == 2
    assert [one.name for one in tmp_path.iterdir()] == ["there"]


def test_a_night_without_additions_says_so_in_place_of_an_empty_table(night: Night, tmp_path: Path):
    assert "No additions." not in simulate().stdout
    night.ending |= {"additions": []}
    shown = simulate("--state", str(tmp_path / "flush")).stdout
    assert "No additions." in shown.splitlines()
    assert "Amounts" not in shown


def test_nothing_draws_progress_where_nobody_watches_a_terminal(night: Night):
    simulate()
    assert night.asked[0][4] is None


def test_the_bar_names_the_step_the_tank_and_the_time_left():
    assert step_line(Progress(), readings=True) == "step 3 of 40 · 88.2 L · fill: Fill to 135.0 L"
    assert "40 · pH 6.12 · fill" in step_line(Progress(level_l=None, ph=6.123), readings=True)
    assert step_line(Progress(ph=6.123), readings=False) == "step 3 of 40 · fill: Fill to 135.0 L"


@pytest.mark.parametrize(("columns", "readings"), [(60, False), (80, False), (120, True)])
@pytest.mark.parametrize("left_s", [4800.0, 0.0])
def test_the_bar_and_the_time_are_whole_at_every_width(columns: int, readings: bool, left_s: float):
    terminal = Console(file=io.StringIO(), width=columns, force_terminal=True, color_system=None)
    bar = bar_on(terminal)
    feed = BarFeed(bar, bar.add_task("starting", total=1.0, left=""))
    title = "Dose 713.3 mL of Molasses [red]that has a name far longer than any line has room for"
    feed(Progress(kind="dose", title=title, now_s=5400.0, left_s=left_s, ph=6.123))  # type: ignore[arg-type]
    terminal.print(bar.get_renderable())
    line, *more = terminal.file.getvalue().rstrip("\n").split("\n")  # type: ignore[attr-defined]
    assert more == []
    assert len(line) == columns
    drawn, _, said = line.partition(" 1 h ")
    assert drawn.startswith("━")
    assert set(drawn) <= {"━", "╸", " "}
    assert (" " in drawn) is (left_s > 0)
    assert len(drawn) == BAR_WIDTH
    assert said.startswith("20 min left step 3 of 40" if left_s else "30 min into the night step 3 of 40")
    assert line.endswith("…")
    assert ("step 3 of 40 · 88.2 L · pH 6.12 · dose: Dose" in line) is readings


def test_a_terminal_is_shown_the_bar_and_stdout_stays_clean(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "120")
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with progress_shown() as show:
        assert show is not None
        show(Progress())  # type: ignore[arg-type]
    assert "step 3 of 40 · 88.2 L · fill: Fill to 135.0 L" in terminal.getvalue()
    assert "1 h 20 min left" in terminal.getvalue()
    assert capsys.readouterr().out == ""


def test_the_bar_is_redrawn_only_when_a_person_would_see_a_change():
    class Bar:
        console = Console(width=120)

        def __init__(self) -> None:
            self.drawn: list[dict[str, Any]] = []

        def update(self, task: int, **fields: Any) -> None:
            self.drawn.append(fields)

    bar = Bar()
    feed = BarFeed(bar, 0)  # type: ignore[arg-type]
    now = Progress()
    for changed in (
        now,
        now,
        replace(now, now_s=601.0, left_s=4799.0),
        replace(now, now_s=660.0, left_s=4740.0),
        replace(now, now_s=661.0, left_s=4739.0, step_number=4),
        replace(now, now_s=5400.0, left_s=0.0, step_number=4),
        replace(now, now_s=5460.0, left_s=0.0, step_number=4),
    ):
        feed(changed)  # type: ignore[arg-type]
    assert [drawn["left"] for drawn in bar.drawn] == [
        "1 h 20 min left",
        "1 h 19 min left",
        "1 h 19 min left",
        "1 h 30 min into the night",
        "1 h 31 min into the night",
    ]


def test_the_share_done_is_by_the_nights_own_clock():
    assert share_done(Progress(now_s=600, left_s=1800)) == 0.25
    assert share_done(Progress(now_s=0, left_s=0)) == 1.0
    assert share_done(Progress(now_s=600, left_s=-5)) == 1.0
