"""The board's section of the wiring sketch: sensors left of it, enable, valve, decoder and drivers right.

The places of the columns live here too, because the computer's section keeps to them.
"""

from __future__ import annotations

from collections.abc import Sequence

from controller.cli.sketch_pen import BODY, HEAD, SMALL, Box, Pen, width_of
from controller.cli.wired_pins import DecoderOutput, WiredPin, board_pins

ROW, PART_HEIGHT = 42, 36
LEFT_X, PART_WIDTH = 40, 345
BOARD_X, BOARD_WIDTH = 430, 190
RIGHT_X, RIGHT_WIDTH = 690, 350
_DECODER_X, _DECODER_WIDTH = 850, 110
_FRAME_X, _FRAME_RIGHT = 1000, 1346
_FED_X = 1332

_FED = ("ENABLE", "VALVE")
_TO_DRIVERS = ("STEP", "DIRECTION")
_DECODER_ROWS = 5
_FIRST_DRIVER = len(_FED) + len(_TO_DRIVERS)


def height(pumps: int) -> float:
    """Give how much room the section takes."""
    return max(len(_left_pins()), _FIRST_DRIVER + max(pumps, _DECODER_ROWS) + 1) * ROW


def draw(pen: Pen, y: float, outputs: Sequence[DecoderOutput]) -> None:
    """Draw the section with its upper edge at y."""
    left = _left_pins()
    box = Box(BOARD_X, y, BOARD_WIDTH, len(left) * ROW)
    pen.write("BOARD", box.x + 8, y - 10, HEAD, "strong")
    pen.rect(box, "part")
    for row, wired in enumerate(left):
        left_part(pen, box, row, wired, "GP")
    for row, wired in enumerate(_right_pins()):
        if wired.key in _FED:
            right_part(pen, box, row, wired, "GP")
        else:
            _to_the_right(pen, box, row, wired)
    _decoder(pen, y + _FIRST_DRIVER * ROW, outputs)
    _drivers(pen, y + len(_FED) * ROW, outputs)


def fed(pen: Pen, y: float, from_x: float, from_y: float) -> None:
    """Lead the switched supply to enable relay, valve and drivers of the section whose upper edge is y."""
    pen.wire((from_x, from_y), (_FED_X, from_y), (_FED_X, y + len(_FED) * ROW + 6))
    for row in range(len(_FED)):
        at = y + row * ROW + ROW / 2
        pen.wire((_FED_X, at), (RIGHT_X + RIGHT_WIDTH, at))
        pen.dot(_FED_X, at)
    pen.write("switched supply", RIGHT_X + RIGHT_WIDTH + 20, y + ROW / 2 - 6, SMALL, "soft")


def left_part(pen: Pen, box: Box, row: int, wired: WiredPin, prefix: str) -> None:
    """Draw what hangs on a pin at the left edge of a board or computer."""
    y, number = box.y + row * ROW + ROW / 2, f"{prefix}{wired.pin}"
    pen.wire((LEFT_X + PART_WIDTH, y), (box.x, y))
    pen.write(number, box.x + 8, y + 4)
    place = Box(LEFT_X, y - PART_HEIGHT / 2, PART_WIDTH, PART_HEIGHT)
    pen.part(place, wired.role, wired.wired, about=f'data-pin="{number}"')


def right_part(pen: Pen, box: Box, row: int, wired: WiredPin, prefix: str) -> None:
    """Draw what hangs on a pin at the right edge."""
    y = _right_pin(pen, box, row, f"{prefix}{wired.pin}", RIGHT_X)
    place = Box(RIGHT_X, y - PART_HEIGHT / 2, RIGHT_WIDTH, PART_HEIGHT)
    pen.part(place, wired.role, wired.wired, about=f'data-pin="{prefix}{wired.pin}"')


def _right_pin(pen: Pen, box: Box, row: int, number: str, to_x: float) -> float:
    y = box.y + row * ROW + ROW / 2
    pen.wire((box.right, y), (to_x, y))
    pen.write(number, box.right - 8 - width_of(number, BODY), y + 4)
    return y


def _to_the_right(pen: Pen, box: Box, row: int, wired: WiredPin) -> None:
    """Draw a wire with its role written on it, to the decoder or to all drivers."""
    to_x = _FRAME_X if wired.key in _TO_DRIVERS else _DECODER_X
    y = _right_pin(pen, box, row, f"GP{wired.pin}", to_x)
    pen.drawn.append(f'<g data-pin="GP{wired.pin}">')
    pen.write(wired.role, box.right + 10, y - 5, BODY)
    if wired.wired:
        pen.write(wired.wired, box.right + 10, y + 14, SMALL, "soft")
    pen.end()


def _decoder(pen: Pen, y: float, outputs: Sequence[DecoderOutput]) -> None:
    box = Box(_DECODER_X, y, _DECODER_WIDTH, max(len(outputs), _DECODER_ROWS) * ROW)
    pen.rect(box, "part")
    pen.write("DECODER", box.x + 8, box.bottom + 18, BODY, "strong")
    pen.write("4 to 16", box.x + 8, box.bottom + 34, SMALL, "soft")
    for row, output in enumerate(outputs):
        at = y + row * ROW + ROW / 2
        number = f"Y{output.output}"
        pen.write(number, box.right - 8 - width_of(number, BODY), at + 4)
        pen.wire((box.right, at), (_FRAME_X + 22, at))


def _drivers(pen: Pen, y: float, outputs: Sequence[DecoderOutput]) -> None:
    frame = Box(_FRAME_X, y + 6, _FRAME_RIGHT - _FRAME_X, (len(outputs) + len(_TO_DRIVERS)) * ROW)
    pen.rect(frame, "frame")
    pen.write("PUMP DRIVERS", _FRAME_X + 22, y + 36, BODY, "strong")
    pen.write("the decoder enables one at most", _FRAME_X + 22, y + 56, SMALL, "soft")
    for row, output in enumerate(outputs, len(_TO_DRIVERS)):
        place = Box(_FRAME_X + 22, y + row * ROW + 3, _FRAME_RIGHT - _FRAME_X - 34, PART_HEIGHT)
        about = f'data-channel="{output.output}"'
        pen.part(place, output.pump, f"driver and pump of channel {output.output}", about=about)


def _right_pins() -> list[WiredPin]:
    return [wired for wired in board_pins() if _is_right(wired)]


def _left_pins() -> list[WiredPin]:
    return [wired for wired in board_pins() if not _is_right(wired)]


def _is_right(wired: WiredPin) -> bool:
    return wired.key in (*_FED, *_TO_DRIVERS) or wired.key.startswith("DECODER")
