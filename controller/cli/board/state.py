"""What a board says of itself in one look, set against what the site wants. It reads, and prints nothing."""

from __future__ import annotations

from dataclasses import dataclass

from controller.cli.board.words import TRIPS, failed_tests
from controller.run.image import BoardImage
from controller.service.board_settings import expected_of, limits_of
from controller.settings.values import Site
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardIdentity, BoardLink, ChannelMotion
from firmware_bridge.connect import Expected, identified, judged, version_text
from firmware_bridge.faults import HardwareFault

ATTEMPTS = 3


@dataclass(frozen=True, slots=True)
class BoardState:
    """One look. `misfits`: what is not as the site wants, each a side of the board, a problem, a remedy."""

    port: str
    identity: BoardIdentity
    expected: Expected
    misfits: tuple[tuple[str, str, str], ...]
    image: BoardImage | None
    motions: tuple[ChannelMotion, ...]


def look(site: Site, link: BoardLink, port: str) -> BoardState:
    """Read everything once; raises HardwareFault when the board does not answer.

    A board of another register map is only identified, for its other registers mean something else.
    """
    identity, expected = identified(link), expected_of(site)
    verdicts = judged(identity, expected)
    misfits = tuple((side, *fault) for side, fault in verdicts if fault is not None)
    if identity.map_id != reg.MAP_ID:
        return BoardState(port, identity, expected, misfits, None, ())
    return BoardState(
        port=port,
        identity=identity,
        expected=expected,
        misfits=misfits,
        image=_image(link, port),
        motions=_motions(link, port),
    )


def read_image(link: BoardLink) -> BoardImage | None:
    """Take one image; a garbled answer gets another try."""
    for _ in range(ATTEMPTS):
        image = link.read()
        if image is not None:
            return image
    return None


def _image(link: BoardLink, port: str) -> BoardImage:
    image = read_image(link)
    if image is None:
        raise _gone_silent(port)
    return image


def _motions(link: BoardLink, port: str) -> tuple[ChannelMotion, ...]:
    for _ in range(ATTEMPTS):
        motions = link.read_motions()
        if motions is not None:
            return motions
    raise _gone_silent(port)


def _gone_silent(port: str) -> HardwareFault:
    return HardwareFault(port, "the board answered and then fell silent", "check the cable and its ground")


def state_as_json(site: Site, state: BoardState) -> dict[str, object]:
    """Give one look for other programs."""
    identity, image = state.identity, state.image
    answer: dict[str, object] = {
        "port": state.port,
        "server_id": site.rig.board.server_id,
        "map": f"{identity.map_id:04x}",
        "firmware": version_text(identity.firmware_version),
        "firmware_wanted": version_text(reg.FIRMWARE_VERSION),
        "fits_site": not state.misfits,
        "misfits": [
            {"side": side, "problem": problem, "remedy": remedy} for side, problem, remedy in state.misfits
        ],
    }
    if image is None:
        return answer
    return answer | {
        "self_tests_failed": list(failed_tests(identity.self_tests)),
        "limits": {
            "checksum": identity.limits_checksum,
            "wanted": state.expected.limits_checksum,
            "lease_ms": identity.lease_ms,
            "valve_cap_s": identity.valve_cap_ms / 1000,
            "channels": identity.channels,
        },
        "front_ends": {
            "checksum": identity.front_ends_checksum,
            "wanted": state.expected.front_ends_checksum,
        },
        **image_as_json(image),
        "pumps": pumps_as_json(site, state),
        "scales": scales_as_json(site, image),
    }


def image_as_json(image: BoardImage) -> dict[str, object]:
    """Give what one image says."""
    return {
        "boot_id": image.boot_id,
        "uptime_s": image.uptime_ms / 1000,
        "enabled": image.enabled,
        "valve_open": image.valve_open,
        "running": image.motion.running,
        "first_trip": None if image.first_trip is None else image.first_trip.value,
        "trips": [
            {"trip": trip.value, "meaning": TRIPS[trip][0], "remedy": TRIPS[trip][1]}
            for trip in TRIPS
            if trip in image.trips
        ],
        "inputs": {
            "high_float": image.high_float,
            "leak": image.leak,
            "ph_mv": image.ph_mv,
            "second_ph_mv": image.second_ph_mv,
            "ec_us_cm": image.ec_us_cm,
            "tank_c": image.tank_c,
            "supply_c": image.supply_c,
            "level_mm": image.level_mm,
            "flow_pulses": image.flow_pulses,
            "scales_g": list(image.scales_g),
        },
    }


def pumps_as_json(site: Site, state: BoardState) -> list[dict[str, object]]:
    """Give each channel's counters; a channel without a pump of this site has pump None."""
    by_channel = {pump.channel: pump for pump in site.rig.pumps.values()}
    shown = max(state.identity.channels, limits_of(site).channels)
    rows: list[dict[str, object]] = []
    for motion in state.motions[:shown]:
        pump = by_channel.get(motion.channel)
        rows.append(
            {
                "channel": motion.channel,
                "pump": None if pump is None else pump.name,
                "last_dose_id": motion.last_dose_id or None,
                "count_done": motion.count_done,
                "counts_since_boot": motion.counts_since_boot,
                "ml_since_boot": None if pump is None else motion.counts_since_boot * pump.ml_per_count,
                "scale": None if pump is None else pump.scale,
            }
        )
    return rows


def scales_as_json(site: Site, image: BoardImage) -> list[dict[str, object]]:
    """Give each data line of scales: this site's name for it, None where it has none, and what it carries."""
    names = {scale.line: scale.name for scale in site.rig.scales.values()}
    return [
        {"line": line, "scale": names.get(line), "gross_g": grams}
        for line, grams in enumerate(image.scales_g)
    ]
