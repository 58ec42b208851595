"""The file of `--from-weighings`: opened and read as text. What stands in it is `controller.measure`."""

from __future__ import annotations

import codecs
from pathlib import Path

from controller.measure.weighed_delivery import Slip, WeighingsRefused


def text_of(table: Path, place: str) -> str:
    """Read a file of weighings; raises WeighingsRefused for one that is not there or no text in UTF-8.

    Raises OSError for one that cannot be read.
    """
    try:
        content = table.read_bytes()
    except FileNotFoundError:
        raise WeighingsRefused(place, [Slip(0, "there is no such file", "check how it is spelled")]) from None
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise WeighingsRefused(place, [Slip(0, "it is text in UTF-16", "save it as CSV in UTF-8")])
    if b"\0" in content:
        problem = "it is no text: a spreadsheet's own file perhaps"
        raise WeighingsRefused(place, [Slip(0, problem, "save it as CSV in UTF-8")])
    return content.decode("utf-8", errors="replace")
