"""A process that runs the wired rig on mock pins, switches everything on, and ends in the way it is told.

At its very end it prints what each relay's pin went through and what the board was told last.
"""

import atexit
import json
import signal
import sys

HISTORY = {}


def tell() -> None:
    """Print the histories. Registered before gpiozero is loaded, it runs after gpiozero's own clean-up."""
    factory, link, pins = HISTORY["factory"], HISTORY["link"], HISTORY["pins"]
    levels = {number: [bool(state.state) for state in factory.pin(number).states] for number in pins}
    off = bool(link.log) and link.log[-1] == HISTORY["all off"]
    functions = sorted({factory.pin(number).function for number in pins})
    print(json.dumps({"levels": levels, "board told all off": off, "functions": functions}), flush=True)


atexit.register(tell)

from wall_desk import ALL_LOW, EVERYTHING, RELAYS, FakeLink  # noqa: E402

from controller.run.request import ALL_OFF  # noqa: E402
from firmware_bridge.panel import Panel  # noqa: E402
from firmware_bridge.pin_factory import pin_factory  # noqa: E402
from firmware_bridge.rig import WiredRig  # noqa: E402


def end(how: str) -> None:
    if how == "exception":
        raise RuntimeError("something went wrong")
    if how == "exit":
        sys.exit(3)
    print("everything is on", flush=True)
    while True:
        signal.pause()


def main(how: str) -> None:
    factory, link = pin_factory("mock"), FakeLink()
    HISTORY.update({"factory": factory, "link": link, "all off": ALL_OFF, "pins": sorted(RELAYS.values())})
    if how == "careless":
        WiredRig(link, Panel(ALL_LOW, factory)).write(EVERYTHING)
        raise RuntimeError("nobody closes the rig")

    def terminated(number: int, _frame: object) -> None:
        raise SystemExit(128 + number)

    signal.signal(signal.SIGTERM, terminated)
    with WiredRig(link, Panel(ALL_LOW, factory)) as rig:
        rig.write(EVERYTHING)
        end(how)


if __name__ == "__main__":
    main(sys.argv[1])
