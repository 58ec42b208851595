"""`tankhand calibrate`: calibrate pumps, pH probes and the conductivity cell, and show their certificates.

A file a subcommand. The arithmetic is in `controller.measure`, the writing of rig.toml and of the record in
`controller.service`.
"""

from __future__ import annotations

import click


@click.group()
def calibrate() -> None:
    """Calibrate a pump, a pH probe or the conductivity cell; show what earlier calibrations found."""
