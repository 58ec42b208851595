"""The wiring sketch: cautions on top, extra-low voltage on the left, mains on the right, a gap between them.

Only what is drawn where lives here; the board's section is `sketch_board.py`, strokes are `sketch_pen.py`.
Wires stay on their own side; what crosses the gap is insulation inside a part, drawn dashed.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.cli import sketch_board as board
from controller.cli.cautions import WIRING
from controller.cli.sketch_pen import BODY, HEAD, SMALL, Box, Pen, fitted, wrapped
from controller.cli.wired_pins import Direction, WiredPin, computer_pins, decoder_outputs
from controller.settings.values import Site

_MARGIN = 20
_ELV_WIDTH, _GAP, _MAINS_WIDTH = 1340, 120, 360
_WIDTH = 2 * _MARGIN + _ELV_WIDTH + _GAP + _MAINS_WIDTH
_HEADING = 44
_LEAST_ROWS = 13
_SUPPLY_X, _SUPPLY_WIDTH = 1085, 225
_MAINS_X = _MARGIN + _ELV_WIDTH + _GAP
_CHAIN_HEIGHT, _CHAIN_STEP = 56, 74
_SUPPLY_STEP, _COIL_STEP = 3, 6
_COILS_X = board.RIGHT_X + board.RIGHT_WIDTH - 30

_SUPPLY = (
    ("fuses", "one for each fed group"),
    ("emergency stop", "hard-wired: opens and", "removes this power itself"),
    ("switched supply", "pump drivers, valve and,", "by the enable relay, relays"),
    ("coil of the contactor", "drops out with the", "switched supply"),
)
_MAINS: tuple[tuple[int, str, str], ...] = (
    (0, "isolator", "as the local code says"),
    (1, "residual-current device", "30 mA or less, as the local code says"),
    (2, "overcurrent protection", "as the local code says"),
    (_SUPPLY_STEP, "safety isolating power supply", "feeds the extra-low voltage"),
    (_COIL_STEP, "contacts of the contactor", "opened by the emergency stop"),
)
_MAINS_LOADS = (
    ["contacts of the relays", "one for each load on mains"],
    ["loads on mains, if there are any", "drip loop in every cable"],
)


@dataclass(frozen=True, slots=True)
class _Heights:
    """Where each part of the picture begins, from the top down; `lane` is that of the relays' contacts."""

    top: float
    computer: float
    computer_end: float
    lane: float
    board: float
    bottom: float

    def chain(self, step: int) -> float:
        """Give the top of one place in the chains of supply and mains."""
        return self.computer + step * _CHAIN_STEP


def wiring_svg(site: Site) -> str:
    """Draw the sketch of one site, as a whole SVG document."""
    pen = Pen()
    top = _cautions(pen, site)
    pins = computer_pins(site.rig.pins)
    heights = _heights(top, pins, len(site.rig.pumps))
    pen.begin("extra-low-voltage")
    pen.rect(Box(_MARGIN, top, _ELV_WIDTH, heights.bottom - top), "elv")
    pen.write("EXTRA-LOW VOLTAGE", board.LEFT_X, top + 28, HEAD, "strong")
    _computer(pen, heights, pins)
    _line(pen, site, heights)
    _supply(pen, heights)
    board.draw(pen, heights.board, decoder_outputs(site))
    pen.end()
    _mains(pen, heights)
    _crossings(pen, heights, with_relays=bool(pins))
    title = f"Wiring sketch: {site.policy.title} ({site.policy.name})"
    return pen.svg(_WIDTH, heights.bottom + _MARGIN, title, _described(site))


def _heights(top: float, pins: tuple[WiredPin, ...], pumps: int) -> _Heights:
    outputs = sum(wired.direction is Direction.OUTPUT for wired in pins)
    computer = top + _HEADING + 30
    computer_end = computer + max(_LEAST_ROWS, outputs + 1) * board.ROW
    board_top = computer_end + 90
    bottom = board_top + board.height(pumps) + _MARGIN
    return _Heights(top, computer, computer_end, computer_end + 30, board_top, bottom)


def _described(site: Site) -> str:
    pumps = ", ".join(f"{output.pump} on output {output.output}" for output in decoder_outputs(site))
    return (
        "Two areas with a gap between them: extra-low voltage with computer, board, decoder, pump drivers, "
        "valve and contacts on the left, mains on the right. The emergency stop breaks the supply of pumps, "
        f"valve and relays by itself; the board's enable feeds the relays. Pumps: {pumps}."
    )


def _cautions(pen: Pen, site: Site) -> float:
    """Write title and cautions; give where the areas begin."""
    pen.begin("cautions")
    room = _WIDTH - 2 * _MARGIN
    pen.write(fitted(f"Wiring sketch: {site.policy.title}", room, 20), _MARGIN, 36, 20, "strong")
    pen.write("Made from rig.toml: a sketch of what goes where, not a plan to build mains from.", _MARGIN, 60)
    numbered = [f"{number}. {caution}" for number, caution in enumerate(WIRING, 1)]
    lines = [line for caution in numbered for line in wrapped(caution, room - 2 * _MARGIN, BODY)]
    box = Box(_MARGIN, 76, room, 44 + 19 * len(lines))
    pen.rect(box, "cautions")
    pen.write("CAUTIONS", box.x + _MARGIN, box.y + 24, HEAD, "strong")
    for place, line in enumerate(lines):
        pen.write(line, box.x + _MARGIN, box.y + 48 + 19 * place)
    pen.end()
    return box.bottom + _MARGIN


def _computer(pen: Pen, heights: _Heights, pins: tuple[WiredPin, ...]) -> None:
    """Draw the computer with its contacts on the left and its signals and relays on the right."""
    box = Box(board.BOARD_X, heights.computer, board.BOARD_WIDTH, heights.computer_end - heights.computer)
    pen.write("COMPUTER", box.x + 8, box.y - 10, HEAD, "strong")
    pen.rect(box, "part")
    if not pins:
        pen.write("no [pins] in", box.x + 12, box.middle - 8)
        pen.write("rig.toml yet", box.x + 12, box.middle + 12)
        return
    signals = [wired for wired in pins if wired.direction is Direction.OUTPUT and not wired.relay]
    relays = [wired for wired in pins if wired.relay]
    for row, wired in enumerate(wired for wired in pins if wired.direction is Direction.INPUT):
        board.left_part(pen, box, row, wired, "GPIO")
    for row, wired in enumerate(signals):
        board.right_part(pen, box, row, wired, "GPIO")
    for row, wired in enumerate(relays, len(signals) + 1):
        board.right_part(pen, box, row, wired, "GPIO")
    _relay_frame(pen, heights, box.y + len(signals) * board.ROW, len(relays))


def _relay_frame(pen: Pen, heights: _Heights, y: float, relays: int) -> None:
    """Frame the relays and lead the board's enable to them."""
    frame = Box(board.RIGHT_X - 12, y + 6, board.RIGHT_WIDTH + 24, (relays + 1) * board.ROW)
    pen.rect(frame, "frame")
    pen.write("RELAYS, fed by the enable relay", board.RIGHT_X, y + 28, BODY, "strong")
    pen.wire((board.RIGHT_X + 60, heights.board + 3), (board.RIGHT_X + 60, frame.bottom))
    pen.write("fed by enable", board.RIGHT_X + 70, heights.board - 16, SMALL, "soft")
    pen.wire((_COILS_X, frame.bottom), (_COILS_X, heights.lane), kind="isolated")
    pen.write("coils here, contacts there", _COILS_X + 10, heights.lane - 6, SMALL, "soft")


def _line(pen: Pen, site: Site, heights: _Heights) -> None:
    """Draw the serial line from the computer's USB to the board's first pins."""
    box = Box(board.LEFT_X, heights.computer + 8 * board.ROW, board.PART_WIDTH, 58)
    settings = site.rig.board
    port = settings.port or "no port in rig.toml yet"
    pen.part(
        box, "converter, USB to serial line", port, f"{settings.baud} baud, server id {settings.server_id}"
    )
    pen.wire((box.right, box.middle), (board.BOARD_X, box.middle))
    pen.write("USB", board.BOARD_X + 8, box.middle + 4)
    pen.wire((board.LEFT_X + 30, box.bottom), (board.LEFT_X + 30, heights.board + 3))


def _supply(pen: Pen, heights: _Heights) -> None:
    """Draw what feeds the extra-low voltage and what the emergency stop takes away."""
    pen.write("SUPPLY", _SUPPLY_X, heights.chain(_SUPPLY_STEP) - 10, HEAD, "strong")
    for place, (name, *remarks) in enumerate(_SUPPLY):
        box = Box(_SUPPLY_X, heights.chain(_SUPPLY_STEP + place), _SUPPLY_WIDTH, _CHAIN_HEIGHT)
        pen.part(box, name, *remarks)
        if place:
            pen.wire((box.x + 40, box.y - _CHAIN_STEP + _CHAIN_HEIGHT), (box.x + 40, box.y))
    switched = heights.chain(_SUPPLY_STEP + 2) + _CHAIN_HEIGHT / 2
    board.fed(pen, heights.board, _SUPPLY_X + _SUPPLY_WIDTH, switched)


def _mains(pen: Pen, heights: _Heights) -> None:
    """Draw the side that only a licensed electrician builds."""
    pen.begin("mains")
    pen.rect(Box(_MAINS_X, heights.top, _MAINS_WIDTH, heights.bottom - heights.top), "mains")
    pen.write("MAINS", _MAINS_X + 20, heights.top + 28, HEAD, "strong")
    pen.write("work of a licensed electrician", _MAINS_X + 20, heights.top + 48)
    x, width = _MAINS_X + 20, _MAINS_WIDTH - 50
    places = [Box(x, heights.chain(step), width, _CHAIN_HEIGHT) for step, *_ in _MAINS]
    contacts = Box(x, heights.lane - _CHAIN_HEIGHT / 2, width, _CHAIN_HEIGHT)
    places += [contacts, Box(x, contacts.y + _CHAIN_STEP, width, _CHAIN_HEIGHT)]
    for box, words in zip(places, (*(words for _, *words in _MAINS), *_MAINS_LOADS), strict=True):
        pen.part(box, *words)
    for above, below in ((0, 1), (1, 2), (2, 3), (4, 5), (5, 6)):
        pen.wire((places[above].x + 40, places[above].bottom), (places[below].x + 40, places[below].y))
    side = places[2].right + 14
    pen.wire(
        (places[2].right, places[2].middle),
        (side, places[2].middle),
        (side, places[4].middle),
        (places[4].right, places[4].middle),
    )
    pen.end()


def _crossings(pen: Pen, heights: _Heights, *, with_relays: bool) -> None:
    """Draw what bridges the gap by insulation alone."""
    pen.begin("gap")
    x = _MARGIN + _ELV_WIDTH + 20
    for place, words in enumerate(("KEPT APART", "no wire", "crosses", "here")):
        pen.write(words, x, heights.top + 28 + 18 * place, BODY, "strong" if place == 0 else "")
    supply_right = _SUPPLY_X + _SUPPLY_WIDTH
    crossings = [
        (supply_right, heights.chain(step) + _CHAIN_HEIGHT / 2) for step in (_SUPPLY_STEP, _COIL_STEP)
    ]
    if with_relays:
        crossings.append((_COILS_X, heights.lane))
    for from_x, y in crossings:
        pen.wire((from_x, y), (_MAINS_X + 20, y), kind="isolated")
        pen.write("insulated", x, y - 6, SMALL, "soft")
    pen.end()
