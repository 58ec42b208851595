"""`tankhand board show`: one look at the board. It reads and writes nothing: no motion, no lease renewed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.board.line import open_board, port_of, port_option
from controller.cli.options import json_option, load_chosen_site, site_option
from firmware_bridge.connect import version_text

if TYPE_CHECKING:
    from controller.cli.board.state import BoardState
    from controller.run.image import BoardImage
    from controller.settings.values import Site


@click.command()
@site_option
@port_option
@json_option
def show(site: Path | None, port: str | None, as_json: bool) -> None:
    """Show what the board is, why it tripped, what it counted and what its inputs say.

    It only reads: nothing moves, and no lease is renewed.
    """
    from controller.cli.board.state import look, state_as_json

    checked = load_chosen_site(site)
    chosen = port_of(checked, port)
    with open_board(checked, chosen) as link:
        state = look(checked, link, chosen)
    if as_json:
        print_json(state_as_json(checked, state))
    else:
        show_state(checked, state)


def show_state(site: Site, state: BoardState) -> None:
    """Print one look: what it is, whether it fits, trips, counters, inputs."""
    from controller.cli.board.words import failed_tests
    from controller.cli.screen import console, print_lines, table

    out, identity = console(), state.identity
    print_lines(out, [f"Board on {state.port}, firmware {version_text(identity.firmware_version)}"])
    misfits = [f"NOT AS THE SITE WANTS: {problem}; {remedy}" for _, problem, remedy in state.misfits]
    print_lines(out, misfits or ["It is as the site wants: firmware, limits, front ends, self-tests."])
    if state.image is None:
        return
    failed = ", ".join(failed_tests(identity.self_tests)) or "none failed"
    rows = [
        *identity_rows(state.image),
        ("self-tests", failed),
        ("limits", f"checksum {identity.limits_checksum}, wanted {state.expected.limits_checksum}"),
        ("lease", f"{identity.lease_ms} ms"),
        ("valve cap", f"{identity.valve_cap_ms / 1000:g} s"),
    ]
    out.print(table("Board", ("what", "is"), rows))
    print_lines(out, trip_lines(state.image))
    out.print(table("Pumps, since the board started", _PUMP_HEAD, _pump_rows(site, state), (0, 2, 3, 4)))
    _print_inputs(state.image)


def identity_rows(image: BoardImage) -> list[tuple[str, str]]:
    """Write which start of the board this is, and what it drives."""
    from controller.cli.board.words import output_rows
    from controller.record.words import duration

    return [
        ("boot id", str(image.boot_id)),
        ("runs for", duration(image.uptime_ms / 1000)),
        *output_rows(image),
    ]


def trip_lines(image: BoardImage) -> list[str]:
    """Say which trips stand, the first one first, and what to do."""
    from controller.cli.board.words import TRIPS

    if not image.trips:
        return ["No trip stands."]
    first = image.first_trip
    ordered = sorted(image.trips, key=lambda trip: (trip is not first, trip.value))
    return [
        f"{'First trip' if trip is first else 'Then'} ({trip.value}): {TRIPS[trip][0]}; {TRIPS[trip][1]}"
        for trip in ordered
    ]


_PUMP_HEAD = ("channel", "pump", "counts", "volume", "last dose id")


def _pump_rows(site: Site, state: BoardState) -> list[tuple[str, ...]]:
    from controller.record.words import millilitres

    by_channel = {pump.channel: pump for pump in site.rig.pumps.values()}
    rows: list[tuple[str, ...]] = []
    for motion in state.motions:
        pump = by_channel.get(motion.channel)
        if pump is None and not motion.counts_since_boot:
            continue
        volume = "" if pump is None else millilitres(motion.counts_since_boot * pump.ml_per_count)
        name = "no pump of this site" if pump is None else pump.name
        counts, dose = str(motion.counts_since_boot), str(motion.last_dose_id or "none")
        rows.append((str(motion.channel), name, counts, volume, dose))
    return rows


def _print_inputs(image: BoardImage) -> None:
    from controller.cli.board.words import input_rows
    from controller.cli.screen import console, table

    console().print(table("Inputs now", ("what", "says"), input_rows(image)))
