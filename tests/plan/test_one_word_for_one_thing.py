"""Trim, first dose, trim input and agitator have one name each, wherever people read them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("controller/plan", "controller/settings", "controller/measure", "config")

OTHER_WORDS = {
    "trim": r"\bcorrections?\b|\bcorrect pH\b|\bmax_additions\b",
    "trim input": r"\bcorrectives?\b",
    "first dose": r"\bprobing dose\b|\bcareful dose\b|\bprobe_ml",
    "agitator": r"stirrer|\bunstirred\b",
}


@pytest.mark.parametrize("word", OTHER_WORDS)
def test_no_other_word_is_used_for(word):
    files = [file for room in ROOMS for file in (ROOT / room).rglob("*") if file.suffix in {".py", ".toml"}]
    assert len(files) > 50
    other = re.compile(OTHER_WORDS[word], re.IGNORECASE)
    found = [
        f"{file.relative_to(ROOT)}: {match[0]}"
        for file in files
        for match in other.finditer(file.read_text(encoding="utf-8"))
    ]
    assert found == []
