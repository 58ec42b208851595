"""What no frame may ever move: the limits of a board on the desk, and the copies that its parts work by."""

from desk import desk_limits

from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.node import Node


def limits_are_kept(node: Node, begun: Limits | None = None) -> bool:
    """Say whether the board still holds, and its parts still work by, the limits that it was started with."""
    begun = begun or desk_limits()
    working = (node.guard._lease_ms, node.valve._limits.checksum(), node.pumps._limits.checksum())
    kept = (begun.lease_ms, begun.checksum(), begun.checksum())
    return node.limits.checksum() == begun.checksum() != 0 and working == kept
