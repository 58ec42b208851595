"""pH buffers: what each bottle reads at a temperature, and which bottle is which.

Primary and technical buffers are different liquids that look alike on a shelf: the technical "7.00" and the
primary phosphate 6.865 lie 0.14 apart. A label is therefore only looked up within one series.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from itertools import pairwise


class Series(Enum):
    """Kind of buffers: by composition as standards define them, or by the value printed on the bottle."""

    PRIMARY = "primary"
    TECHNICAL = "technical"


class BufferFault(ValueError):
    """A bottle that is not known, or not at this temperature; str gives one line with the remedy."""


TABLE_C = (10.0, 15.0, 20.0, 25.0, 30.0, 35.0)


@dataclass(frozen=True, slots=True)
class Buffer:
    """One buffer. `label` is its pH at 25 °C as people call it, `doubt_ph` its standard uncertainty."""

    label: str
    title: str
    series: Series
    table: tuple[float, ...]
    doubt_ph: float

    def ph_at(self, temperature_c: float) -> float:
        """Give its pH by straight lines between the table's temperatures, 10 to 35 °C (BufferFault)."""
        if not TABLE_C[0] <= temperature_c <= TABLE_C[-1]:
            raise BufferFault(
                f"buffer {self.label}: {temperature_c:.1f} °C is outside its table, "
                f"{TABLE_C[0]:g} to {TABLE_C[-1]:g} °C; bring the bottle to room temperature"
            )
        for (low_c, low), (high_c, high) in pairwise(zip(TABLE_C, self.table, strict=True)):
            if temperature_c <= high_c:
                return low + (high - low) * (temperature_c - low_c) / (high_c - low_c)
        raise AssertionError("no stretch of the table holds a temperature within it")

    @property
    def nominal_ph(self) -> float:
        """Give its pH at 25 °C."""
        return self.ph_at(25.0)


# Standard uncertainty: of a primary buffer 0.005 (from memory); a technical bottle says ±0.02, taken as
# rectangular.
_PRIMARY_DOUBT, _TECHNICAL_DOUBT = 0.005, 0.02 / 3.0**0.5

# pH(S) of IUPAC 2002 (Pure Appl. Chem. 74, 2169) and NIST SP 260-53, from memory; two decimals checked with
# JIS Z 8802 (transcription on an instrument maker's page), phthalate also against Hetzer et al. 1977 (J. Res.
# NBS 81A), borax and carbonate at 25 °C against the abstract of an NBS paper of 1969.
PRIMARY = (
    Buffer(
        "4.005",
        "phthalate, 0.05 mol/kg",
        Series.PRIMARY,
        (3.997, 3.998, 4.000, 4.005, 4.011, 4.018),
        _PRIMARY_DOUBT,
    ),
    Buffer(
        "6.865",
        "phosphate, 0.025 + 0.025 mol/kg",
        Series.PRIMARY,
        (6.923, 6.900, 6.881, 6.865, 6.853, 6.844),
        _PRIMARY_DOUBT,
    ),
    Buffer(
        "9.180",
        "borax, 0.01 mol/kg",
        Series.PRIMARY,
        (9.332, 9.276, 9.225, 9.180, 9.139, 9.102),
        _PRIMARY_DOUBT,
    ),
    Buffer(
        "10.012",
        "carbonate, 0.025 + 0.025 mol/kg",
        Series.PRIMARY,
        (10.179, 10.118, 10.062, 10.012, 9.966, 9.926),
        _PRIMARY_DOUBT,
    ),
)

# A process meter's manual (second hand): 0.05 mol/L potassium hydrogen phthalate; 0.041 mol/L Na2HPO4
# and 0.026 mol/L KH2PO4; 0.025 mol/L carbonate and bicarbonate. Where it says "4.00 to 4.01", 4.01.
TECHNICAL = (
    Buffer("4.00", "4.00", Series.TECHNICAL, (4.00, 4.00, 4.00, 4.01, 4.01, 4.02), _TECHNICAL_DOUBT),
    Buffer("7.00", "7.00", Series.TECHNICAL, (7.06, 7.04, 7.02, 7.00, 6.99, 6.99), _TECHNICAL_DOUBT),
    Buffer("10.01", "10.01", Series.TECHNICAL, (10.18, 10.12, 10.06, 10.01, 9.97, 9.93), _TECHNICAL_DOUBT),
)

BUFFERS = {Series.PRIMARY: PRIMARY, Series.TECHNICAL: TECHNICAL}

_NEAR_PH = 0.006
"""A label is the bottle's when it is so near its pH at 25 °C: 6.86 is the primary 6.865."""
_ALSO_CALLED = {"4.01": "4.00", "4": "4.00", "7": "7.00", "7.0": "7.00", "10": "10.01", "10.00": "10.01"}
_PRIMARY_NAMES = {"phthalate": "4.005", "phosphate": "6.865", "borax": "9.180", "carbonate": "10.012"}


def buffer_named(label: str, series: Series) -> Buffer:
    """Find a bottle by its label or name in one series.

    BufferFault when there is none; when the other series has it, that is said, for it is another liquid.
    """
    found = _find(label, series)
    if found is not None:
        return found
    other = Series.PRIMARY if series is Series.TECHNICAL else Series.TECHNICAL
    known = ", ".join(buffer.label for buffer in BUFFERS[series])
    elsewhere = _find(label, other)
    if elsewhere is not None:
        raise BufferFault(
            f'"{label}" is a {other.value} buffer ({elsewhere.title}), another liquid than the '
            f"{series.value} ones; use --buffers {other.value}, or one of {known}"
        )
    raise BufferFault(f'"{label}" is no {series.value} buffer; use one of {known}')


def _find(label: str, series: Series) -> Buffer | None:
    name = label.strip().lower()
    name = _PRIMARY_NAMES.get(name, name) if series is Series.PRIMARY else _ALSO_CALLED.get(name, name)
    try:
        wanted = float(name)
    except ValueError:
        return None
    near = [buffer for buffer in BUFFERS[series] if abs(float(buffer.label) - wanted) <= _NEAR_PH]
    return near[0] if near else None


def counterpart(buffer: Buffer) -> Buffer | None:
    """Give the bottle of the other series that is taken for this one; None where they hardly differ.

    Phthalate is the same liquid in both, and 10.01 differs by no more than a thousandth or two.
    """
    other = Series.PRIMARY if buffer.series is Series.TECHNICAL else Series.TECHNICAL
    near = min(BUFFERS[other], key=lambda one: abs(one.nominal_ph - buffer.nominal_ph))
    return near if 0.05 < abs(near.nominal_ph - buffer.nominal_ph) < 0.5 else None
