"""The computer's own pins: selector, button, emergency-stop status, two floats; relays, lamp and sounder.

Every contact lies between its pin and ground, with the pin's pull-up: closed reads low, a cut wire open.
Off comes first: before anything goes on, when anything fails, before a pin is let go. No decisions, and no
clock but the pin factory's.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import ExitStack, suppress
from dataclasses import replace
from types import TracebackType
from typing import Any, Self

from gpiozero import Factory, InputDevice, OutputDevice

from controller.run.image import PanelImage, Selector
from controller.run.request import ALL_OFF, Request
from controller.settings.values import Pins
from firmware_bridge.faults import HardwareFault
from firmware_bridge.press import Press

CONTACTS = ("estop_ok", "selector_hand", "selector_auto", "button", "second_high_float", "low_float")
SIGNALS = ("lamp", "sounder")
_RELAYS = ("stir", "air", "drain", "permit")
_POSITIONS: dict[tuple[bool | None, bool | None], Selector] = {
    (True, False): Selector.HAND,
    (False, True): Selector.AUTO,
    (False, False): Selector.OFF,
}


def relay_pins(pins: Pins) -> dict[str, tuple[int, bool]]:
    """Give the pin of each relay, and whether a high level switches it on, by its key in [pins]."""
    numbers = {key: getattr(pins, key) for key in _RELAYS}
    relays = {key: (pin, key not in pins.active_low) for key, pin in numbers.items() if pin is not None}
    for name, pin in pins.agitators.items():
        relays[_agitator(name)] = (pin, name not in pins.active_low)
    return relays


class Panel:
    """The wall side of the rig. Every output is off from its first moment; leaving `with` switches off.

    `unread` names the contacts that could not be read last time; they were taken for the worst. A pin that
    cannot be opened or driven is a HardwareFault that names it.
    """

    def __init__(self, pins: Pins, factory: Factory) -> None:
        self._factory = factory
        self._start = factory.ticks()
        self._press = Press()
        self._relays: dict[str, Any] = {}
        self._signals: dict[str, Any] = {}
        self._contacts: dict[str, Any] = {}
        self._driven = ALL_OFF
        self.unread: tuple[str, ...] = ()
        try:
            for key, (pin, active_high) in relay_pins(pins).items():
                self._relays[key] = self._open(key, pin, OutputDevice, active_high=active_high)
            for key in SIGNALS:
                self._signals[key] = self._open(key, getattr(pins, key), OutputDevice)
            for key in CONTACTS:
                self._contacts[key] = self._open(key, getattr(pins, key), InputDevice, pull_up=True)
        except BaseException:
            with suppress(Exception):
                self.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def driven(self) -> Request:
        """Give which relays were driven last, without fill and dose, which are the board's."""
        return self._driven

    def read(self) -> PanelImage:
        """Read every contact once. One that cannot be read counts as the worst it can say."""
        closed = {key: self._is_closed(key) for key in CONTACTS}
        self.unread = tuple(key for key in CONTACTS if closed[key] is None)
        position = (closed["selector_hand"], closed["selector_auto"])
        now_s = self._factory.ticks_diff(self._factory.ticks(), self._start)
        return PanelImage(
            selector=_POSITIONS.get(position, Selector.IMPOSSIBLE),
            button=self._press.look(closed["button"], now_s),
            estop_ok=closed["estop_ok"] is True,
            high_float=closed["second_high_float"] is not True,
            low_float=closed["low_float"] is not True,
        )

    def drive(self, outputs: Request) -> None:
        """Drive every relay: what goes off is off before anything goes on. After any error all are off."""
        wanted = _wanted(outputs)
        self._driven = ALL_OFF
        try:
            if wanted - self._relays.keys():
                key = min(wanted - self._relays.keys())
                raise HardwareFault(f"pins.{key}", "is asked for, and has no pin", "name its pin in rig.toml")
            _switch_off((key, relay) for key, relay in self._relays.items() if key not in wanted)
            for key in sorted(wanted):
                _switch(key, self._relays[key], on=True)
        except BaseException:
            with suppress(Exception):
                _switch_off(self._relays.items())
            raise
        self._driven = replace(outputs, fill=None, dose=None)

    def show(self, lamp: bool, sounder: bool) -> None:
        """Light the lamp and sound the sounder, or not."""
        for key, on in zip(SIGNALS, (lamp, sounder), strict=True):
            if key in self._signals:
                _switch(key, self._signals[key], on=on)

    def off(self) -> None:
        """Switch off every relay, lamp and sounder, one after the other, even when one of them fails."""
        self._driven = ALL_OFF
        _switch_off([*self._relays.items(), *self._signals.items()])

    def close(self) -> None:
        """Switch everything off, then let every pin go: gpiozero by itself would let go of one that is on."""
        with ExitStack() as afterwards:
            afterwards.callback(self._let_go)
            self.off()

    def _open(self, key: str, pin: int, device: Any, **how: bool) -> Any:
        try:
            return device(pin, pin_factory=self._factory, **how)
        except Exception as error:
            remedy = "end the program that uses this pin, or give it another pin in rig.toml"
            raise HardwareFault(f"pins.{key} = {pin}", f"cannot be opened ({error})", remedy) from error

    def _let_go(self) -> None:
        """Close every pin, whatever happens to one; an output once more after an "off" of its own."""
        with ExitStack() as pins:
            for key, contact in self._contacts.items():
                pins.callback(_free, key, contact)
            for key, output in (*self._signals.items(), *self._relays.items()):
                pins.callback(_free, key, output)
                pins.callback(_switch, key, output, on=False)
            self._contacts, self._signals, self._relays = {}, {}, {}

    def _is_closed(self, key: str) -> bool | None:
        contact = self._contacts.get(key)
        try:
            return None if contact is None else bool(contact.value)
        except Exception:
            return None


def _agitator(name: str) -> str:
    return f"agitators.{name}"


def _wanted(outputs: Request) -> set[str]:
    wanted = {key for key in _RELAYS if getattr(outputs, key)}
    return wanted | {_agitator(name) for name in outputs.agitators}


def _switch_off(outputs: Iterable[tuple[str, Any]]) -> None:
    """Write "off" to every one of them; only then raise the first fault."""
    faults: list[HardwareFault] = []
    for key, output in outputs:
        try:
            _switch(key, output, on=False)
        except HardwareFault as fault:
            faults.append(fault)
    if faults:
        raise faults[0]


def _switch(key: str, output: Any, *, on: bool) -> None:
    try:
        output.value = on
    except Exception as error:
        word = "on" if on else "off"
        remedy = "take the rig's power away by the emergency stop, then look at the computer's header"
        raise HardwareFault(f"pins.{key}", f"cannot be switched {word} ({error})", remedy) from error


def _free(key: str, device: Any) -> None:
    try:
        device.close()
    except Exception as error:
        remedy = "start the computer again before anything else uses this pin"
        raise HardwareFault(f"pins.{key}", f"cannot be let go ({error})", remedy) from error
