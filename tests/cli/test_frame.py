"""The frame: quick commands stay quick, and a failure ends in clear lines and the agreed exit code."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from controller.cli import frame, main
from controller.cli.stop import NOTHING_BEGUN
from controller.plan.findings import PlanRefused, Refusal, Rule
from controller.settings.faults import Fault, SiteFaults
from controller.settings.load import demo_site_folder

ROOT = Path(__file__).parents[2]


def run_command_that_raises(
    monkeypatch: pytest.MonkeyPatch, fault: BaseException, *before: str
) -> tuple[int, str, str]:
    """Stand a command that raises `fault` in the place of `plan` and run it."""

    @click.command()
    def breaks() -> None:
        raise fault

    monkeypatch.setattr(frame.LazyGroup, "get_command", lambda *_: breaks)
    result = CliRunner().invoke(main, [*before, "plan"])
    if isinstance(result.exception, ZeroDivisionError):
        raise result.exception
    return result.exit_code, result.stdout, result.stderr


def test_faults_of_the_site_are_one_line_each_and_exit_2(monkeypatch: pytest.MonkeyPatch):
    faults = SiteFaults(
        [
            Fault("rig.toml", "tank.brim", '"9 oz"', "has a bare ounce", "write fl oz"),
            Fault("site.toml", "", "", "is empty", "write it"),
        ]
    )
    assert run_command_that_raises(monkeypatch, faults) == (
        2,
        "",
        'rig.toml: tank.brim = "9 oz": has a bare ounce; write fl oz\nsite.toml: is empty; write it\n',
    )


def test_a_refused_plan_says_every_reason_and_exits_2(monkeypatch: pytest.MonkeyPatch):
    refused = PlanRefused(
        (
            Refusal(Rule.STOCK, "seaweed", "40 mL left", "refill the bottle"),
            Refusal(Rule.HEEL, "heel", "90 L", "drain the tank"),
        )
    )
    code, stdout, stderr = run_command_that_raises(monkeypatch, refused)
    assert (code, stdout) == (2, "")
    assert stderr.splitlines() == [fault.line() for fault in refused.faults]


@pytest.mark.parametrize(
    ("fault", "code", "remedy"),
    [
        (PermissionError(13, "Permission denied", "/x/journal"), 2, "give this user permission"),
        (FileNotFoundError(2, "No such file or directory", "/x/journal"), 2, "make the folder"),
        (NotADirectoryError(20, "Not a directory", "/x/journal"), 2, "move the file away"),
        (FileExistsError(17, "File exists", "/x/journal"), 2, "move the file away"),
        (IsADirectoryError(21, "Is a directory", "/x/journal"), 2, "name a file in it"),
        (OSError(28, "No space left on device", "/x/journal"), 1, "free some space"),
        (OSError(30, "Read-only file system", "/x/journal"), 2, "name another place"),
        (OSError(5, "Input/output error", "/x/journal"), 1, "check the disk"),
    ],
)
def test_a_fault_of_the_file_system_names_the_file_and_the_remedy(
    monkeypatch: pytest.MonkeyPatch, fault: OSError, code: int, remedy: str
):
    ended, stdout, stderr = run_command_that_raises(monkeypatch, fault)
    assert (ended, stdout) == (code, "")
    assert stderr.startswith(f"/x/journal: {fault.strerror}; ")
    assert remedy in stderr
    assert stderr.count("\n") == 1


@pytest.mark.parametrize("words", [["--help"], ["plan", "--help"], ["plan"], ["plan", "--json"]])
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_full_stdout_is_one_line_that_names_it(words: list[str], unbuffered: str):
    # full(4): writing to this device fails with ENOSPC.
    with Path("/dev/full").open("w") as full:
        run = subprocess.run(
            [sys.executable, "-m", "controller", *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            env={"PYTHONUNBUFFERED": unbuffered},
            cwd=ROOT,
        )
    said = "stdout: No space left on device; free some space there, or name another place\n"
    assert (run.returncode, run.stderr) == (1, said)


def test_a_fault_of_the_program_admits_it_in_one_line_and_exits_1(monkeypatch: pytest.MonkeyPatch):
    code, stdout, stderr = run_command_that_raises(monkeypatch, ZeroDivisionError("float\ndivision"))
    assert (code, stdout) == (1, "")
    assert len(stderr.splitlines()) == 1
    assert "fault in the program" in stderr
    assert "ZeroDivisionError: float division" in stderr
    assert "--debug" in stderr


def test_debug_lets_the_traceback_of_a_fault_of_the_program_through(monkeypatch: pytest.MonkeyPatch):
    with pytest.raises(ZeroDivisionError):
        run_command_that_raises(monkeypatch, ZeroDivisionError("float division"), "--debug")


def test_debug_shows_no_traceback_for_a_mistake_of_the_person(monkeypatch: pytest.MonkeyPatch):
    fault = SiteFaults([Fault("site.toml", "", "", "is empty", "write it")])
    assert run_command_that_raises(monkeypatch, fault, "--debug") == (
        2,
        "",
        "site.toml: is empty; write it\n",
    )


def test_ctrl_c_while_a_command_is_loaded_says_that_nothing_was_begun(monkeypatch: pytest.MonkeyPatch):
    def interrupted(_name: str) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(frame, "import_module", interrupted)
    result = CliRunner().invoke(main, ["simulate"])
    assert (result.exit_code, result.stdout, result.stderr) == (1, "", f"{NOTHING_BEGUN}\n")


def test_ctrl_c_while_the_command_line_itself_is_loaded_says_the_same():
    program = (
        "import sys\n"
        "class Pressed:\n"
        "    def find_spec(self, name, path, target=None):\n"
        "        if name == 'click':\n"
        "            raise KeyboardInterrupt\n"
        "sys.meta_path.insert(0, Pressed())\n"
        "import controller.cli"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert (run.returncode, run.stdout, run.stderr) == (1, "", f"{NOTHING_BEGUN}\n")


def test_ctrl_c_ends_without_a_traceback(monkeypatch: pytest.MonkeyPatch):
    code, _, stderr = run_command_that_raises(monkeypatch, KeyboardInterrupt())
    assert code == 1
    assert "Traceback" not in stderr


@pytest.mark.parametrize(
    "words",
    [["sow"], ["plan", "--fast"], ["--loud"], ["simulate", "--seed", "x"], ["simulate", "--seed", "-1"]],
)
def test_a_word_that_is_not_known_exits_2_and_names_it(words: list[str]):
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert words[-1] in result.stderr
    assert result.stdout == ""


def test_every_listed_command_is_there_and_says_what_it_does():
    context = click.Context(main)
    for name in main.list_commands(context):
        command = main.get_command(context, name)
        assert command is not None
        assert command.name == name
        assert command.get_short_help_str(), name


def modules_after(*words: str) -> set[str]:
    """Run the command in a process of its own and give every module that was imported by its end."""
    program = (
        "import sys, io, contextlib\n"
        "from controller.cli import main\n"
        "with contextlib.redirect_stdout(io.StringIO()):\n"
        f"    code = main({list(words)!r}, standalone_mode=False)\n"
        "print(*sys.modules)"
    )
    run = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    return set(run.stdout.split())


def test_plan_as_json_imports_nothing_that_it_does_not_need():
    imported = modules_after("plan", "--json")
    assert "controller.plan" in imported
    assert (
        imported & {"rich", "transitions", "sqlite3", "sim", "firmware_bridge", "controller.run", "asyncio"}
        == set()
    )


def test_the_version_is_told_without_reading_a_site():
    result = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "controller", "--version"],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    assert result.stdout.startswith("tankhand, version ")
    imported = {line.rpartition("|")[2].strip() for line in result.stderr.splitlines()}
    assert "controller.cli.frame" in imported
    assert imported & {"pint", "pydantic", "rich", "controller.settings"} == set()


@pytest.mark.parametrize("encoding", ["ascii", "iso8859-2"])
def test_a_terminal_without_a_character_gets_a_mark_in_its_place(tmp_path: Path, encoding: str):
    site = tmp_path / "site"
    shutil.copytree(demo_site_folder(), site)
    recipe = site / "recipes" / "plain_flush.toml"
    recipe.write_text(re.sub(r"(?m)^title = .*", 'title = "Flush below 900 µS/cm"', recipe.read_text()))
    run = subprocess.run(
        [sys.executable, "-m", "controller", "plan", "--site", site, "--recipe", "plain_flush"],
        capture_output=True,
        env={"PYTHONIOENCODING": encoding},
        check=False,
        cwd=ROOT,
    )
    assert (run.returncode, run.stderr) == (0, b"")
    assert b"Flush below 900 ?S/cm" in run.stdout
