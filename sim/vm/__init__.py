"""A board in a real MicroPython virtual machine, under Node, on a real pseudo-terminal."""

from sim.vm.board import VmBoard, vm_board

__all__ = ["VmBoard", "vm_board"]
