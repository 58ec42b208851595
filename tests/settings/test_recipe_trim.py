"""What a recipe may say of its trims: a jar test, and the rebound that is expected."""

from __future__ import annotations

import pytest
from site_copies import SiteCopy

from controller.settings.load import load_site
from controller.settings.values import JarTest

RECIPE = "recipes/plain_flush.toml"
BASE = 'base = "limestone_suspension"\n'
JAR = 'jar_test = {{ input = "{}", ml_l = {}, ph_before = {}, ph_after = {} }}\n'


def test_without_a_word_there_is_neither(site_copy: SiteCopy) -> None:
    recipe = load_site(site_copy.folder).recipes["plain_flush"]
    assert recipe.jar_test is None
    assert recipe.rebound_ph is None


def test_a_jar_test_and_a_rebound_are_read(site_copy: SiteCopy) -> None:
    jar = JAR.format("citric_acid", 0.5, 7.2, 6)
    site_copy.replace(RECIPE, BASE, f"{BASE}{jar}rebound_ph = 0.1\n")
    recipe = load_site(site_copy.folder).recipes["plain_flush"]
    assert recipe.jar_test == JarTest("citric_acid", 0.5, 7.2, 6.0)
    assert recipe.rebound_ph == 0.1


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        (
            JAR.format("molasses", 0.5, 7.2, 6.4),
            'trim.jar_test.input = "molasses": is not what this recipe trims with; '
            "name the acid or the base of this [trim]",
        ),
        (
            JAR.format("citric_acid", 0.5, 6.4, 7.2),
            "trim.jar_test.ph_after = 7.2: does not lie below ph_before (6.4); "
            "write both readings as they were, or try the jar again",
        ),
        (
            JAR.format("limestone_suspension", 0.5, 6.4, 5.2),
            "trim.jar_test.ph_after = 5.2: does not lie above ph_before (6.4); "
            "write both readings as they were, or try the jar again",
        ),
        (JAR.format("citric_acid", 0, 7.2, 6.4), "trim.jar_test.ml_l = 0: "),
        ("rebound_ph = 1.5\n", "trim.rebound_ph = 1.5: "),
    ],
)
def test_what_cannot_be_so_is_told_in_one_line(site_copy: SiteCopy, line: str, fault: str) -> None:
    site_copy.replace(RECIPE, BASE, BASE + line)
    assert [str(found).startswith(f"{RECIPE}: {fault}") for found in site_copy.faults()] == [True]
