"""A wall on the desk: mock pins that tell in which order they are driven and fail on wish; virtual time."""

from dataclasses import dataclass, field, replace
from types import MappingProxyType

from gpiozero.pins.mock import MockFactory

from controller.run.image import BoardImage
from controller.run.request import Request
from controller.settings.values import Pins
from firmware_bridge.pin_factory import GlitchFreeMockPin

PINS = Pins(
    selector_hand=5,
    selector_auto=6,
    button=13,
    estop_ok=19,
    second_high_float=26,
    low_float=16,
    stir=17,
    air=27,
    drain=22,
    permit=23,
    lamp=24,
    sounder=25,
    agitators=MappingProxyType({"kelp_agitator": 4, "fish_agitator": 12}),
    active_low=frozenset(),
)
ALL_LOW = replace(
    PINS, active_low=frozenset({"stir", "air", "drain", "permit", "kelp_agitator", "fish_agitator"})
)
RELAYS = {"stir": 17, "air": 27, "drain": 22, "permit": 23, "kelp_agitator": 4, "fish_agitator": 12}
EVERYTHING = Request(
    stir=True, air=True, agitators=frozenset({"kelp_agitator", "fish_agitator"}), drain=True, permit=True
)


class DeskPin(GlitchFreeMockPin):
    """Tells its factory what it drives; a broken one refuses to be read and driven."""

    def output_with_state(self, state):
        super().output_with_state(state)
        self.factory.told.append((self._number, bool(state)))

    def _set_state(self, value):
        if self._number in self.factory.broken:
            raise OSError(f"GPIO{self._number} does not answer")
        super()._set_state(value)
        self.factory.told.append((self._number, bool(value)))

    def _get_state(self):
        if self._number in self.factory.broken:
            raise OSError(f"GPIO{self._number} does not answer")
        return super()._get_state()

    def _set_function(self, value):
        if value == "output":
            raise AssertionError("an output is claimed together with its level")
        if self._function == "output":
            self.factory.let_go.append((self._number, self._state))
        super()._set_function(value)


class DeskFactory(MockFactory):
    """`told`: every level written, in order. `let_go`: at which level an output was let go."""

    def __init__(self):
        super().__init__(pin_class=DeskPin)
        self.told: list[tuple[int, bool]] = []
        self.let_go: list[tuple[int, bool]] = []
        self.broken: set[int] = set()
        self.now_s = 1000.0

    def ticks(self):
        return self.now_s

    def close_contacts(self, *pins: int) -> None:
        for pin in pins:
            self.pin(pin).drive_low()

    def open_contacts(self, *pins: int) -> None:
        for pin in pins:
            self.pin(pin).drive_high()

    def levels(self) -> dict[str, bool]:
        """Give the level of each relay's pin, whether it answers or not."""
        return {name: bool(self.pin(pin)._state) for name, pin in RELAYS.items()}


@dataclass
class FakeLink:
    """A board's link that writes down what it is told; it can be silent or fail."""

    log: list[object] = field(default_factory=list)
    answers: bool = True
    fails: bool = False
    image: BoardImage | None = None

    def read(self) -> BoardImage | None:
        return self.image

    def write(self, outputs: Request) -> bool:
        self.log.append(outputs)
        if self.fails:
            raise RuntimeError("the link broke")
        return self.answers
