"""Weights of a calibration as they are typed, on the disk at once: nothing a person weighed is lost.

The file is one that `--from-weighings` takes; what the weights say is `controller.measure`.
"""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from controller.measure.weighed_delivery import WeighedDelivery
from controller.settings.values import Pump


class KeptWeighings:
    """A table in `folder`, made with the first weight. `keep` raises OSError if it cannot be written."""

    def __init__(self, folder: Path, pump: Pump, moment: datetime) -> None:
        self.place = folder / f"weighings-{pump.name}-{moment:%Y-%m-%dT%H%M%S}.csv"
        self._pump = pump
        self._rows: dict[int, WeighedDelivery] = {}
        self._replaced: list[str] = []

    @property
    def any(self) -> bool:
        """Tell whether a weight was kept."""
        return bool(self._rows)

    def keep(self, one: WeighedDelivery) -> None:
        """Put a weight on the disk, in the place of an earlier one of its line, which stays as a comment."""
        before = self._rows.get(one.line)
        if before is not None:
            self._replaced.append(f"# delivery {one.line} was delivered again; before: {_row(before)}")
        self._rows[one.line] = one
        head = [f"# pump {self._pump.name}", *self._replaced, "counts,grams"]
        text = "\n".join([*head, *(_row(row) for row in self._rows.values())]) + "\n"
        new = self.place.with_name(f".{self.place.name}.new")
        with new.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(new, self.place)


def _row(one: WeighedDelivery) -> str:
    return f"{one.counts},{one.typed or format(one.grams, 'f')}"
