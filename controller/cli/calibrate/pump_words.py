"""What a pump's certificate looks like: on a terminal, and as one page to print. Words and layout only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from controller.record.page import Html, element, facts, join, page, section, table
from controller.record.words import percent, signed

HOW = (
    "Every delivery was weighed and turned into millilitres by the density of the liquid and the buoyancy "
    "of the air (Z factor, the form of ISO 4787 and ISO 8655-6). A weighted straight line through all "
    "deliveries gives mL per count and what every delivery gives beyond its counts. Uncertainties are "
    "expanded, k = 2, about 95 % (JCGM 100:2008). The limits are the site's own."
)
VOLUMES = (
    "counts",
    "deliveries",
    "by the setting",
    "weighed",
    "±",
    "scatter (CV)",
    "off the setting",
    "off the line",
)
BUDGET = ("doubt", "type", "standard share", "how")


def verdict_line(found: Mapping[str, Any]) -> str:
    """Say in one line what was found."""
    word = "Passed" if found["passed"] else "NOT PASSED"
    return f"{word}: pump {found['pump']} gives {line_words(found)}."


def line_words(found: Mapping[str, Any]) -> str:
    """Write the line: mL per count with its uncertainty, and the start."""
    start = signed(f"{found['start_ml']:.3f} mL")
    doubt = found["per_count_expanded_ml"] / found["per_count_ml"]
    return (
        f"{found['per_count_ml']:.5g} mL/count ± {doubt * 100:.2f} % and {start} ± "
        f"{found['start_expanded_ml']:.3f} mL a delivery"
    )


def before_line(found: Mapping[str, Any]) -> str:
    """Say how far the pump was off what rig.toml says."""
    before = found["before"]
    off = percent(found["volumes"][-1]["bias_share"])
    when = f"weighed on {before['calibrated']}" if before["calibrated"] else "no date"
    return (
        f"rig.toml says {before['per_count_ml']:.5g} mL/count ({when}); the largest volume is {off} off that."
    )


def volume_rows(found: Mapping[str, Any]) -> list[tuple[str, ...]]:
    """Give a row a volume."""
    return [
        (
            str(point["counts"]),
            str(point["deliveries"]),
            f"{point['setting_ml']:.2f} mL",
            f"{point['mean_ml']:.3f} mL",
            f"{point['expanded_ml']:.3f} mL",
            f"{point['cv_share'] * 100:.2f} %",
            signed(f"{point['bias_share'] * 100:.2f} %"),
            signed(f"{point['off_line_share'] * 100:.2f} %"),
        )
        for point in found["volumes"]
    ]


def budget_rows(found: Mapping[str, Any]) -> list[tuple[str, ...]]:
    """Give a row a doubt."""
    return [
        (line["name"], line["type"], f"{line['standard_share'] * 100:.3f} %", line["how"])
        for line in found["budget"]
    ]


def show(found: Mapping[str, Any]) -> None:
    """Print a certificate on the terminal."""
    from controller.cli.screen import console, print_lines
    from controller.cli.screen import table as screen_table

    out = console()
    head = f"Pump {found['pump']}, weighed on {found['date'][:10]} by {found['by']} with {found['liquid']}"
    print_lines(out, [head, ""])
    out.print(screen_table("Volumes", VOLUMES, volume_rows(found), tuple(range(len(VOLUMES)))))
    out.print(screen_table("Uncertainty of mL per count", BUDGET, budget_rows(found), (2,)))
    print_lines(out, [verdict_line(found), before_line(found)])
    print_lines(out, [f"Limit exceeded: {text}." for text in found["failed"]])
    print_lines(out, [f"Note: {text}." for text in found["notes"]])


def certificate_html(found: Mapping[str, Any]) -> str:
    """Make the page of one certificate: self-contained, fit to print."""
    good = "good" if found["passed"] else "bad"
    say = element("p", "Passed" if found["passed"] else "Not passed", "say")
    verdict = element(
        "div",
        join(say, element("p", f"{line_words(found)}."), element("p", before_line(found))),
        f"verdict {good}",
    )
    failed = [element("p", f"Limit exceeded: {text}.") for text in found["failed"]]
    notes = [element("p", f"Note: {text}.") for text in found["notes"]]
    rows: Sequence[tuple[str, ...]] = [
        (str(one["line"]), str(one["counts"]), one["as_typed"], f"{one['ml']:.3f} mL")
        for one in found["deliveries"]
    ]
    simulated = (
        element("p", "Simulated pump: this certificate proves nothing.", "bad")
        if _simulated(found)
        else Html("")
    )
    body = join(
        element("h1", f"Calibration of pump {found['pump']}"),
        simulated,
        verdict,
        *failed,
        *notes,
        _surroundings(found),
        section("Volumes", table("Mean of each volume", VOLUMES, volume_rows(found), range(8))),
        section("Uncertainty", table("Standard shares of mL per count", BUDGET, budget_rows(found), (2,))),
        section("How", element("p", HOW)),
        section("Deliveries", table("As weighed", ("line", "counts", "net", "volume"), rows, range(4))),
        section("Signed", element("p", "Date, name: ______________________________")),
    )
    return page(f"Calibration of pump {found['pump']}, {found['date'][:10]}", body)


def _simulated(found: Mapping[str, Any]) -> bool:
    return bool(found["rig"] == "sim")


def _surroundings(found: Mapping[str, Any]) -> Html:
    air, balance = found["air"], found["balance_g"]
    return facts(
        (
            ("Weighed", found["date"][:16].replace("T", " ")),
            ("By", found["by"]),
            ("Liquid", f"{found['liquid']}, {found['liquid_c']:g} °C"),
            ("Density", f"{found['density_kg_l']:.5g} kg/L"),
            ("Z factor", f"{found['z_ml_g']:.5f} mL/g"),
            (
                "Air",
                f"{air['temperature_c']:g} °C, {air['pressure_hpa']:g} hPa, {air['humidity_percent']:g} %",
            ),
            ("Balance", f"reads to {balance['readability']:g} g, within {balance['linearity']:g} g"),
        )
    )
