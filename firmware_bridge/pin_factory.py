"""Which library drives the computer's pins, and pins that become outputs without a glitch.

The factory is always chosen by name and handed on: gpiozero's own default would try four libraries one after
the other. What is wired to which pin is `panel.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from types import ModuleType
from typing import Any

from gpiozero import Factory, GPIOZeroError, PinUnknownPi
from gpiozero.pins.mock import MockFactory, MockPin

from firmware_bridge.faults import HardwareFault

WHERE = "GPIO pins"
# Whether the kernel leaves an output at its level when the process that drove it dies. Names from memory.
_KEPT_OUTPUTS = (
    "/sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs",
    "/sys/module/pinctrl_rp1/parameters/persist_gpio_outputs",
)


class GlitchFreeMockPin(MockPin):  # type: ignore[misc]
    """A mock pin that becomes an output at its level in one step; its history begins at that moment."""

    def output_with_state(self, state: bool) -> None:
        """Become an output that has never had another level."""
        self._function = "output"
        self._state = bool(state)
        self.clear_states()


def pin_factory(name: str) -> Factory:
    """Open the pins: "lgpio" for the real ones, "mock" for none. Raises HardwareFault with the remedy."""
    if name == "mock":
        return MockFactory(pin_class=GlitchFreeMockPin)
    if name == "lgpio":
        return _lgpio_factory()
    raise HardwareFault(WHERE, f'"{name}" is no way to drive them', 'choose "lgpio" or "mock"')


def glitch_free(pin_class: Any, lgpio: ModuleType) -> Any:
    """Derive a pin class that claims an output together with its level.

    gpiozero 2.0.1 claims it at level 0 first and writes the level after: a short "on" of an active-low relay
    at every start. lgpio 0.2.2 hands the level to the kernel in the same call, but does nothing to a line
    that is an output already; hence the write after it, which otherwise changes nothing.
    """

    class GlitchFreePin(pin_class):  # type: ignore[misc]
        def output_with_state(self, state: bool) -> None:
            level = 1 if state else 0
            self.when_changed = None
            lgpio.gpio_claim_output(self.factory._handle, self._number, level)
            lgpio.gpio_write(self.factory._handle, self._number, level)

    return GlitchFreePin


def outputs_outlive_process(read_text: Callable[[str], str]) -> bool | None:
    """Say whether a killed program's outputs stay as they were; None when this kernel does not tell.

    `read_text` reads a file and raises OSError when it cannot.
    """
    for path in _KEPT_OUTPUTS:
        with suppress(OSError):
            return read_text(path).strip().upper() in ("Y", "1")
    return None


def _lgpio_factory() -> Factory:
    try:
        # Not at the top: the import alone opens a pipe in the working directory.
        import lgpio
        from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin
    except ImportError as error:
        remedy = "run, at the top of the repository: .venv/bin/pip install -e '.[hardware]'"
        raise HardwareFault(WHERE, f"the library lgpio cannot be loaded ({error})", remedy) from error
    except OSError as error:
        remedy = "start in a folder that may be written, or name one in LG_WD: its pipe .lgd-nfy0 goes there"
        raise HardwareFault(WHERE, f"lgpio cannot make its pipe ({error})", remedy) from error
    try:
        factory = LGPIOFactory()
    except PinUnknownPi as error:
        remedy = "run this on the rig's computer; anywhere else use the simulated rig"
        raise HardwareFault(WHERE, "gpiozero does not know this computer's header", remedy) from error
    except (GPIOZeroError, OSError, lgpio.error) as error:
        remedy = (
            "`ls -l /dev/gpiochip*` tells whether there is one and which group may open it (mostly gpio): "
            "sudo usermod -aG gpio $USER, then log in again"
        )
        raise HardwareFault(WHERE, f"the GPIO chip cannot be opened ({error})", remedy) from error
    factory.pin_class = glitch_free(LGPIOPin, lgpio)
    return factory
