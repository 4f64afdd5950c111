"""Gear that was lost: found again or given up. Until then it stays listed."""

from trapline.errors import Conflict
from trapline.model.changes import Changes
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.store.project import Project


def report_found(project: Project, trap_id: str, note: str = "") -> Changes:
    """Say that a lost trap was found: where, when, and what was in it."""
    return _close(project, trap_id, "found", "Found", note)


def retire_trap(project: Project, trap_id: str, note: str = "") -> Changes:
    """Take a trap out of service for good; a lost one is given up."""
    return _close(project, trap_id, "retired", "Retired", note)


def _close(project: Project, trap_id: str, state: str, word: str, note: str) -> Changes:
    number = project.snapshot().need(Trap, trap_id).number
    verb = {"found": f"Report trap {number} found", "retired": f"Retire trap {number}"}[state]
    with project.change(verb) as change:
        trap = change.snapshot.need(Trap, trap_id)
        if trap.state == state:
            raise Conflict(f"Trap {number} is {state} already.", number, "Choose another trap.")
        if any(row.is_in_water and row.trap_id == trap_id for row in change.snapshot.all(TrapSet)):
            raise Conflict(f"Trap {number} is in the water.", number, "Lift it first.")
        line = f"{word}: {note}" if note else ""
        text = "\n".join(part for part in (line, trap.state_note) if part)
        change.update(trap.with_(state=state, state_note=text))
    return project.last_changes
