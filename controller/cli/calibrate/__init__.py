"""`tankhand calibrate`: calibrate pumps, pH probes and the conductivity cell, and show their certificates.

Only the group and its list of commands live here; each command has a file of its own. The arithmetic is in
`controller.measure`, the writing of rig.toml and of the record in `controller.service`.
"""

from __future__ import annotations

import click

from controller.cli.calibrate import conductivity, probe, pump, show


@click.group()
def calibrate() -> None:
    """Calibrate a pump, a pH probe or the conductivity cell; show what earlier calibrations found."""


for _command in (pump.pump, probe.probe, conductivity.conductivity, show.show):
    calibrate.add_command(_command)
