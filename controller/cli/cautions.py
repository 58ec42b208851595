"""The cautions that stand before anything about wiring and installing. Words only.

They never replace the local code or licensed practice, and say so.
"""

from __future__ import annotations

from firmware_bridge.firmware.pin_plan import RESET_BUTTON

# Figures: residual current 30 mA, IEC 61008-1; air gap of twice the bore and at least 25 mm (1 in),
# ASME A112.1.2; emergency stop by removing power, stop category 0, IEC 60204-1. The drip loop is common
# practice, no source.
WIRING = (
    "Anything on mains is the work of a licensed electrician under the local code. "
    "This page is no permission.",
    "Every circuit near the tank is protected by a residual-current device (30 mA or less, as the local code "
    "says). Press its test button as its maker says.",
    "The emergency stop is hard-wired and removes the power by itself. Software only reads its spare contact "
    "and can neither hold the power nor bring it back.",
    "The fill ends above the rim with an air gap: at least twice the bore and never less than 25 mm, or more "
    "where the local water code wants more. A hose that can hang into the tank is no air gap.",
    "Every cable hangs in a drip loop below its socket or gland, so that water drops off before it arrives.",
    "Extra-low voltage and mains run in separate enclosures or behind a partition, never in one cable or "
    "conduit.",
    "Every driver has a pull-down (the decoder's gate a pull-up), so that a board in reset, a cut wire or a "
    "computer without power means off.",
    "Every fed group has a fuse of its own, sized for its wire.",
    "Wire with everything unplugged. Pumps and valve stay unplugged until `tankhand check --hardware` is "
    "good.",
)

INSTALLING = (
    "Unplug every pump and the fill valve first: pins may change level while the firmware is exchanged.",
    "Hold the board's local reset button while its power comes on, until the files are copied (service "
    "mode). A board that runs hears no Ctrl-C at its USB port, and its watchdog, which cannot be stopped, "
    "would break off the copying. If the button fails, close its contact with a wire: "
    f"GP{RESET_BUTTON} to ground.",
    "Use the board's own USB plug, not the serial line that rig.toml names.",
)
