"""Whatever state the files of a site are in, there is a site or there are fault lines, nothing else."""

import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from site_copies import SITE_FILES, SiteCopy

from controller.settings.faults import Fault, SiteFaults
from controller.settings.load import load_site

EMPTY = "write settings into it, or copy the file of the demo site"


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", f"site.toml: is empty; {EMPTY}"),
        (b" \n\n", f"site.toml: is empty; {EMPTY}"),
        (b"# nothing yet\n", f"site.toml: holds no settings; {EMPTY}"),
        (b"\x89PNG\r\n\x1a\n\x00", "site.toml: is not UTF-8 text (byte 1); save it as plain text in UTF-8"),
        (
            "title = 'ä'".encode("utf-16"),
            "site.toml: is not UTF-8 text (byte 1); save it as plain text in UTF-8",
        ),
        (b'name = "citrus', "site.toml: is not valid TOML: "),
        (b"a = " + b"[" * 20_000, "site.toml: is nested too deeply; "),
        (b"a = " + b"9" * 5_000, "site.toml: is not valid TOML: "),
        (b"#" * 300_000, "site.toml: is larger than 256 KiB; "),
    ],
    ids=["empty", "blank", "comment", "picture", "utf-16", "truncated", "nested", "enormous number", "huge"],
)
def test_a_file_that_is_no_settings_file_gets_one_line(
    site_copy: SiteCopy, content: bytes, line: str
) -> None:
    (site_copy.folder / "site.toml").write_bytes(content)
    assert site_copy.only_fault().startswith(line)


def test_a_missing_file_is_named(site_copy: SiteCopy) -> None:
    (site_copy.folder / "inputs.toml").unlink()
    assert site_copy.only_fault() == "inputs.toml: is missing; write it, or copy the one of the demo site"


def test_a_file_under_a_nearly_right_name_is_pointed_out(site_copy: SiteCopy) -> None:
    (site_copy.folder / "inputs.toml").rename(site_copy.folder / "input.toml")
    assert site_copy.only_fault() == 'inputs.toml: is missing; the nearest is "input.toml"; rename it'


def test_links_that_go_round_in_a_circle_are_told(site_copy: SiteCopy) -> None:
    for name, target in {
        "rig.toml": "other.toml",
        "other.toml": "rig.toml",
        "site.toml": "site.toml",
    }.items():
        (site_copy.folder / name).unlink(missing_ok=True)
        (site_copy.folder / name).symlink_to(target)
    assert [str(fault).split(";")[0] for fault in site_copy.faults()] == [
        "rig.toml: is a link that leads back to itself",
        "site.toml: is a link that leads back to itself",
    ]


def test_a_recipe_folder_that_links_to_itself_is_told(site_copy: SiteCopy) -> None:
    recipes = site_copy.folder / "recipes"
    recipes.rename(site_copy.folder / "elsewhere")
    recipes.symlink_to("recipes")
    assert site_copy.only_fault().startswith("recipes/: is a link that leads back to itself")


@pytest.mark.parametrize("path", ["rig.toml", "recipes/fruiting.toml"])
def test_a_folder_in_place_of_a_file_is_told(site_copy: SiteCopy, path: str) -> None:
    (site_copy.folder / path).unlink()
    (site_copy.folder / path).mkdir()
    assert site_copy.only_fault().startswith(f"{path}: is not a file; put a TOML text file")


def test_a_pipe_in_place_of_a_file_is_told_and_not_waited_for(site_copy: SiteCopy) -> None:
    (site_copy.folder / "rig.toml").unlink()
    os.mkfifo(site_copy.folder / "rig.toml")
    assert site_copy.only_fault().startswith("rig.toml: is not a file")


def test_an_endless_device_in_place_of_a_file_is_told_and_not_read(site_copy: SiteCopy) -> None:
    (site_copy.folder / "rig.toml").unlink()
    (site_copy.folder / "rig.toml").symlink_to("/dev/zero")
    assert site_copy.only_fault().startswith("rig.toml: is not a file")


def test_a_site_without_recipes_is_told(site_copy: SiteCopy) -> None:
    for recipe in (site_copy.folder / "recipes").iterdir():
        recipe.unlink()
    assert site_copy.only_fault() == "recipes/: holds no recipe; put at least one NAME.toml into it"


def test_a_recipe_file_needs_a_plain_name(site_copy: SiteCopy) -> None:
    folder = site_copy.folder / "recipes"
    (folder / "Best\nFeed.toml").write_bytes((folder / "plain_flush.toml").read_bytes())
    assert site_copy.only_fault().startswith("recipes/Best\\nFeed.toml: its name is not a plain name")


def test_what_editors_leave_behind_is_no_recipe(site_copy: SiteCopy) -> None:
    (site_copy.folder / "recipes" / ".#fruiting.toml").symlink_to("nobody@nowhere")
    (site_copy.folder / "recipes" / "fruiting.toml~").write_text("old")
    assert set(site_copy.load().recipes) == {"fruiting", "plain_flush", "young_plants"}


def test_a_byte_order_mark_does_no_harm(site_copy: SiteCopy) -> None:
    path = site_copy.folder / "rig.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert site_copy.load().rig.tank.working_l == 180.0


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("nowhere", "is missing"),
        ("file", "is not a folder"),
        ("loop", "is a link that leads back"),
        ("a\0b", "cannot"),
    ],
)
def test_a_folder_that_is_none_gets_one_line(tmp_path: Path, name: str, problem: str) -> None:
    (tmp_path / "file").touch()
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(SiteFaults) as raised:
        load_site(tmp_path / name)
    (fault,) = raised.value.faults
    assert fault.problem.startswith(problem)
    assert str(fault).count("\n") == 0
    assert fault.remedy == "name a folder that holds rig.toml, inputs.toml, site.toml and recipes/"


def test_an_empty_folder_lists_everything_that_is_missing(tmp_path: Path) -> None:
    with pytest.raises(SiteFaults) as raised:
        load_site(tmp_path)
    assert [fault.file for fault in raised.value.faults] == [
        "rig.toml",
        "inputs.toml",
        "site.toml",
        "recipes/",
    ]


def faults_of(folder: Path) -> tuple[Fault, ...]:
    try:
        load_site(folder)
    except SiteFaults as faults:
        return faults.faults
    return ()


def told_or_loaded(site: SiteCopy, file: str, content: bytes) -> None:
    path = site.folder / file
    good = path.read_bytes()
    path.write_bytes(content)
    faults = faults_of(site.folder)
    path.write_bytes(good)
    for fault in faults:
        assert fault.problem
        assert fault.remedy
        assert str(fault).isprintable(), "a fault is one line that any terminal shows"
        assert len(str(fault)) < 600
    assert len(set(faults)) == len(faults), "no fault is told twice"


@settings(max_examples=120, deadline=None)
@given(st.sampled_from(SITE_FILES), st.floats(0, 1), st.floats(0, 0.2), st.binary(max_size=12))
def test_bytes_cut_out_or_thrown_in_give_a_site_or_fault_lines(
    spoilt_again_and_again: SiteCopy, file: str, where: float, how_much: float, thrown_in: bytes
) -> None:
    good = (spoilt_again_and_again.folder / file).read_bytes()
    start = int(where * len(good))
    told_or_loaded(
        spoilt_again_and_again, file, good[:start] + thrown_in + good[start + int(how_much * len(good)) :]
    )


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(SITE_FILES), st.floats(0, 1))
def test_a_file_cut_short_anywhere_gives_a_site_or_fault_lines(
    spoilt_again_and_again: SiteCopy, file: str, where: float
) -> None:
    good = (spoilt_again_and_again.folder / file).read_bytes()
    told_or_loaded(spoilt_again_and_again, file, good[: int(where * len(good))])


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(SITE_FILES), st.binary(max_size=200))
def test_any_bytes_at_all_give_fault_lines(
    spoilt_again_and_again: SiteCopy, file: str, content: bytes
) -> None:
    told_or_loaded(spoilt_again_and_again, file, content)


ODD_VALUES = st.sampled_from(
    [
        "nan",
        "-inf",
        "1e400",
        "-1",
        "0",
        "9" * 4_000,
        "0x" + "f" * 6_000,
        "true",
        '""',
        '"\\u0000\\u202e"',
        "[]",
        "[[]]",
        "[1, {}]",
        "{}",
        "{ a = { b = 1 } }",
        "1979-05-27",
        "1979-05-27T07:32:00Z",
        "07:32:00",
        '"-3 L"',
        '"1e9 mL"',
        '"label"',
        '"99999999 h"',
        '["monday", "monday"]',
    ]
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(SITE_FILES), st.integers(0, 200), ODD_VALUES)
def test_an_odd_value_at_any_key_gives_a_site_or_fault_lines(
    spoilt_again_and_again: SiteCopy, file: str, at: int, odd: str
) -> None:
    lines = (spoilt_again_and_again.folder / file).read_text(encoding="utf-8").split("\n")
    keys = [number for number, line in enumerate(lines) if " = " in line and not line.startswith("#")]
    number = keys[at % len(keys)]
    lines[number] = f"{lines[number].split(' = ')[0]} = {odd}"
    told_or_loaded(spoilt_again_and_again, file, "\n".join(lines).encode())
