"""The README promises only what is there."""

import re
from pathlib import Path

import click
import pytest

from controller.cli import main
from controller.cli.errors import EXIT_CODES

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SPANS = re.findall(r"`([^`\n]+)`", README)
COMMANDS_SET_APART = re.findall(r"^    (\S.*)$", README.partition("\n## What you see")[0], flags=re.MULTILINE)


MEASURED = re.compile(r"\d[\d.,]*\s?(?:µs|ms|s|min|h|kB|MB|%|times)(?!\w)")


def every_command(group: click.Group, name: str = "tankhand") -> dict[str, click.Command]:
    found: dict[str, click.Command] = {}
    context = click.Context(group)
    for word in group.list_commands(context):
        command = group.get_command(context, word)
        assert command is not None, word
        if isinstance(command, click.Group):
            found |= every_command(command, f"{name} {word}")
        else:
            found[f"{name} {word}"] = command
    return found


def options_of(command: click.Command) -> set[str]:
    return {word for parameter in command.params for word in parameter.opts} | {"--help"}


def named_command(span: str, commands: dict[str, click.Command]) -> str | None:
    fitting = [name for name in commands if f"{span} ".startswith(f"{name} ")]
    return max(fitting, key=len, default=None)


def test_the_job_in_one_paragraph_comes_before_everything_else():
    title, job, next_heading = README.split("\n\n")[:3]
    assert title == "# Tankhand"
    assert next_heading.startswith("## ")
    assert all(word in job for word in ("feed tank", "fill", "dose", "mix", "pH", "record"))


def test_the_two_commands_are_one_line_each_and_their_scripts_are_there():
    assert COMMANDS_SET_APART == ["bash .ci/tankhand simulate", "bash .ci/test"]
    for command in COMMANDS_SET_APART:
        script = ROOT / command.split()[1]
        assert script.read_text().startswith("#!/usr/bin/env bash\n"), script


def test_an_automatic_build_runs_the_readmes_test_command():
    assert COMMANDS_SET_APART[1] in (ROOT / ".ci" / "run").read_text().splitlines()


def test_every_command_and_option_the_readme_names_exists():
    commands = every_command(main)
    named = [span for span in SPANS if span.startswith("tankhand ")]
    assert named, "the README names no command"
    for span in named:
        command = named_command(span, commands)
        assert command is not None, f"README: `{span}` does not exist"
        for option in re.findall(r"(?<=\s)--?[a-z-]+", span):
            assert option in options_of(commands[command]), f"README: `{span}` has no {option}"


def test_every_option_in_a_commands_row_belongs_to_that_command():
    commands = every_command(main)
    for row in re.findall(r"^\| `(tankhand [^`]+)` \|(.*)\|$", README, flags=re.MULTILINE):
        command = named_command(row[0], commands)
        for option in re.findall(r"`(--[a-z-]+)", row[1]):
            assert option in options_of(commands[str(command)]), f"README: {row[0]} has no {option}"


def test_every_command_that_exists_is_in_the_readme():
    spans = " ".join(SPANS)
    assert [name for name in every_command(main) if name not in spans] == []


@pytest.mark.parametrize("span", sorted({s for s in SPANS if re.fullmatch(r"[\w./]*/|[A-Z]+\.md", s)}))
def test_every_folder_and_page_the_readme_names_exists(span: str):
    assert (ROOT / span).exists()


def test_every_measured_figure_stands_beside_the_bench_or_test_that_gives_it():
    rows = re.findall(
        r"^\| .*\d.* \|$", README.partition("\n## What you see")[2].partition("\n## ")[0], re.MULTILINE
    )
    prose = [line for line in README.splitlines() if not line.startswith("    ")]
    figures = [line for line in prose if MEASURED.search(re.sub(r"`[^`]*`", "", line))]
    assert rows, "the README names no figure"
    for line in (*rows, *figures):
        named = re.search(r"`(tests/[\w/]+\.py)[^`]*`", line)
        assert named, f"README: no bench or test is named beside: {line}"
        assert (ROOT / named[1]).is_file(), f"README: {named[1]} does not exist"


def test_the_exit_codes_are_those_of_the_help():
    assert EXIT_CODES in " ".join(README.split())


def test_the_cautions_name_the_dangers():
    caution = README.partition("## Caution")[2].partition("\n## ")[0].lower()
    for danger in (
        "licensed electrician",
        "local code",
        "residual-current",
        "drip loop",
        "air gap",
        "gloves, goggles, ventilation",
        "never mix an oxidiser",
        "not a safety device",
        "hard-wired",
    ):
        assert danger in caution, danger
