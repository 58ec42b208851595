"""How numbers and times are written for people, on a page and on a terminal: always with the unit.

Pure wording; no page and no plot is made here.
"""

from __future__ import annotations

from datetime import datetime, timedelta

MINUS = "−"


def litres(volume_l: float | None) -> str:
    """Write a tank volume to 0.1 L."""
    return "no reading" if volume_l is None else f"{volume_l:.1f} L"


def millilitres(volume_ml: float) -> str:
    """Write an amount to 0.1 mL, to 0.01 mL below 10 mL, and to 1 mL from 1000 mL on."""
    decimals = 2 if abs(volume_ml) < 10 else 1 if abs(volume_ml) < 1000 else 0
    return f"{volume_ml:.{decimals}f} mL"


def signed(text: str) -> str:
    """Put a plus or a true minus sign before a written number."""
    if not text.strip("-0. mL%"):
        return text.lstrip("-")
    return MINUS + text[1:] if text.startswith("-") else "+" + text


def percent(share: float | None) -> str:
    """Write a share to 0.1 %, with its sign; a dash when there is none."""
    return "–" if share is None else signed(f"{share * 100:.1f} %")


def acidity(ph: float | None) -> str:
    """Write a pH to 0.01, which has no unit but its name."""
    return "no reading" if ph is None else f"pH {ph:.2f}"


def celsius(temperature_c: float | None) -> str:
    """Write a temperature to 0.1 °C."""
    return "no reading" if temperature_c is None else f"{temperature_c:.1f} °C".replace("-", MINUS)


def conductivity(ec_us_cm: float | None) -> str:
    """Write a conductivity in whole µS/cm."""
    return "no reading" if ec_us_cm is None else f"{ec_us_cm:.0f} µS/cm"


def duration(seconds: float | None) -> str:
    """Write a duration in h, min and s."""
    if seconds is None:
        return "did not end"
    if 0 < seconds < 10:
        return f"{seconds:.1f} s"
    whole = max(0, round(seconds))
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    if hours:
        return f"{hours} h {minutes:02d} min"
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


def counted(number: int, what: str) -> str:
    """Write how many, in the singular for one."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def time_of_day(moment: datetime) -> str:
    """Write a local time of day to the second."""
    return moment.strftime("%H:%M:%S")


def date_and_time(moment: datetime) -> str:
    """Write a local date and time to the second, with its UTC offset."""
    return f"{moment:%Y-%m-%d %H:%M:%S} (UTC{moment:%z})"


def date_and_minute(moment: datetime) -> str:
    """Write a local date and time to the minute."""
    return f"{moment:%Y-%m-%d %H:%M}"


def later(moment: datetime, seconds: float) -> datetime:
    """Give the moment so many seconds later."""
    return moment + timedelta(seconds=seconds)
