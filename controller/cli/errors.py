"""Turns a known fault into the lines a person reads and the exit code a script reads.

Nothing is printed here. The other rooms' fault classes are imported only once something has failed, because
importing every room in order to catch what it may raise would make every command slow.
"""

from __future__ import annotations

import errno
from dataclasses import dataclass

FAILED = 1
FAULT_OF_USE = 2
HELD = 3

EXIT_CODES = (
    "Exit codes: 0 done (a night: released and kept), 1 failed (a night: aborted, stopped by you, "
    "or, simulated, one that broke a safety law), "
    "2 wrong usage or a fault in the files, 3 held or quarantined (the controller stopped it)."
)

_FAULTS_OF_THE_GIVEN = (
    FileExistsError,
    FileNotFoundError,
    IsADirectoryError,
    NotADirectoryError,
    PermissionError,
)

_A_FILE = "a file stands where a folder is wanted: move the file away, or name another folder"
_NO_ROOM = "free some space there, or name another place"
_NOT_ALLOWED = "give this user permission there, or name another place"
_REMEDIES = {
    errno.EACCES: _NOT_ALLOWED,
    errno.EDQUOT: _NO_ROOM,
    errno.EEXIST: _A_FILE,
    errno.EISDIR: "this is a folder: name a file in it",
    errno.ENAMETOOLONG: "choose a shorter name",
    errno.ENOENT: "check how it is spelled, and make the folder it is to lie in",
    errno.ENOSPC: _NO_ROOM,
    errno.ENOTDIR: _A_FILE,
    errno.EPERM: _NOT_ALLOWED,
    errno.EROFS: "that disk can only be read: name another place",
}


@dataclass(frozen=True, slots=True)
class Explained:
    """A fault in words: one line for each thing to put right, and the exit code of the process."""

    lines: tuple[str, ...]
    exit_code: int
    stdout_is_lost: bool = False


def explain(fault: BaseException) -> Explained | None:
    """Put a fault of what the person gave, or of the machine, into lines; None for a fault of the program."""
    if isinstance(fault, OSError):
        return _explain_system_fault(fault)

    from controller.plan.findings import PlanRefused
    from controller.record.fault import RecordFault
    from controller.run.orders import StartRefused
    from controller.settings.faults import SiteFaults, plain
    from firmware_bridge.faults import HardwareFault

    if isinstance(fault, StartRefused):
        return Explained((str(fault),), HELD)
    if isinstance(fault, HardwareFault):
        return Explained((plain(str(fault)),), FAULT_OF_USE)
    if isinstance(fault, SiteFaults | PlanRefused | RecordFault):
        return Explained(tuple(str(fault).splitlines()), FAULT_OF_USE)
    return None


def bug_line(fault: BaseException) -> str:
    """Say in one line that the program is at fault, what broke, and how to report it."""
    what = " ".join(f"{type(fault).__name__}: {fault}".split())
    return (
        f"tankhand: a fault in the program, not in what you gave it: {what}. "
        "Please report it with the traceback: the same command as `tankhand --debug ...` shows that."
    )


def _explain_system_fault(fault: OSError) -> Explained:
    """Name the file, the fault and the remedy.

    Whatever opens or writes a file names it in its fault, so that a fault without a name is one of stdout.
    """
    from controller.settings.faults import plain

    place = "stdout" if fault.filename is None else fault.filename
    of_the_given = isinstance(fault, _FAULTS_OF_THE_GIVEN) or fault.errno == errno.EROFS
    code = FAULT_OF_USE if of_the_given else FAILED
    remedy = _REMEDIES.get(fault.errno or 0, "check the disk, or name another place")
    return Explained((plain(f"{place}: {fault.strerror or fault}; {remedy}"),), code, fault.filename is None)


def exit_code_of(result: str, *, stopped_by_you: bool) -> int:
    """Give the exit code of a night from the ISA-88 end state of its batch; the words are `EXIT_CODES`.

    Only a released tank is kept to the end and so complete. A batch that is stopped was stopped by the
    controller, which held it too long or quarantined its tank, unless you asked for it.
    """
    if result == "complete":
        return 0
    return HELD if result == "stopped" and not stopped_by_you else FAILED
