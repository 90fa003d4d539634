"""Every command by name: where it is, and what the list of commands says of it.

What a command imports is slow to load: photos want an image library, records a database. So the
list is made from this table, and a command is loaded when it is called. The summaries are those of
the commands themselves, word for word, which a test holds.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Listed:
    """A command as it is listed.

    Parameters
    ----------
    module
        Of `needlewright.cli`.
    summary
        One sentence: the first of its help.
    function
        Of the module; empty: the module has an `app` of its own.
    is_group
        Whether it has commands of its own; these are listed first.
    """

    module: str
    summary: str
    function: str = ""
    is_group: bool = False


COMMANDS: Final[Mapping[str, Listed]] = {
    "read": Listed(
        "read",
        "Read every needle in photos of one family.",
        function="read",
    ),
    "look": Listed(
        "look",
        "Say of each dial named how far off it is and which turn would put it right.",
        function="look",
    ),
    "run": Listed(
        "run",
        "Join the photos of one bench run with what was commanded.",
        function="run_photos",
    ),
    "needles": Listed(
        "needles",
        "Tell for every needle of a run whether to leave it, to turn it, or to look elsewhere.",
        function="needles",
    ),
    "before-after": Listed(
        "before_after",
        "Set the run as found beside the run as left, dial by dial.",
        function="before_after",
    ),
    "report": Listed(
        "report",
        "Report how a cluster came in, and what its needles need.",
        function="report",
    ),
    "certify": Listed(
        "certify",
        "Certify a rebuilt cluster, or report why it cannot be certified.",
        function="certify",
    ),
    "rules": Listed(
        "rules",
        "List the tolerance rules with their sources and their limits at the check points.",
        function="rules",
    ),
    "demo": Listed(
        "demo",
        "Work through an invented job: read the photos, name the faults, plan, rebuild, certify.",
        function="demo",
    ),
    "family": Listed(
        "family",
        "Check a family folder, show what it says, print the schema of its file.",
        is_group=True,
    ),
    "sweep": Listed(
        "sweep",
        "Follow every needle through a video and name what went wrong.",
    ),
    "repeatability": Listed(
        "repeatability",
        "Judge how well readings repeat, without any truth.",
    ),
    "explain": Listed(
        "explain",
        "Say for every dial of a run which fault it shows, with a probability for each.",
    ),
    "light": Listed(
        "light",
        "Say which zones of a lit face are dark or dim, and which tell-tales did not light.",
    ),
    "board": Listed(
        "board",
        "Show where one side of a board looks otherwise after the work than before it.",
    ),
    "intake": Listed(
        "intake",
        "Write the questions for the owner: one file that is filled in on a screen or printed.",
    ),
    "troubleshoot": Listed(
        "troubleshoot",
        "Say what is probably wrong, in the cluster or outside it, and what to do next.",
    ),
    "in-vehicle": Listed(
        "in_vehicle",
        "Say whether a cluster shows what it is told: dashboard photos against the diagnostic "
        "port.",
    ),
    "plan": Listed(
        "plan",
        "Plan a rebuild: what to repair, replace, watch and leave, by expected cost.",
    ),
    "guides": Listed(
        "guides",
        "Show how an operation is done, or how a cluster is put back, on one sheet to print.",
    ),
    "signal": Listed(
        "signal",
        "What to put on each wire so that a dial is told a value, and back.",
        is_group=True,
    ),
    "bench": Listed(
        "bench",
        "Take every dial to its check points from below and from above, and read every needle.",
    ),
    "temperature-series": Listed(
        "temperature_series",
        "The same bench run at several temperatures: what fails in the cold, and below which.",
        is_group=True,
    ),
    "burn-in": Listed(
        "burn_in",
        "A cluster left running for hours: what that is worth, the run, its report.",
        is_group=True,
    ),
    "shop": Listed(
        "shop",
        "The shop itself: settings, people, instruments, families.",
        is_group=True,
    ),
    "jobs": Listed(
        "jobs",
        "The jobs in the house, from the tag to the return.",
        is_group=True,
    ),
    "stock": Listed(
        "stock",
        "Parts in stock: what there is, what came, and what went into which job.",
        is_group=True,
    ),
    "needle-set": Listed(
        "needle_set",
        "A needle onto a new movement: where to press it, and how far down.",
        is_group=True,
    ),
    "sums": Listed(
        "sums",
        "The sums of the workbench; without a name, lists them.",
        is_group=True,
    ),
    "serve": Listed(
        "serve",
        "Serve the page until Ctrl-C; without --lan, to this machine alone.",
    ),
    "backup": Listed(
        "backup",
        "Write the whole shop into one file, every hash verified.",
    ),
    "restore": Listed(
        "restore",
        "Put a backup into a new folder; nothing is ever written over.",
    ),
    "rehearse": Listed(
        "rehearse",
        "Rehearse without a cluster: photos whose truth is known, a simulated cluster with faults.",
        is_group=True,
    ),
}
"""In the order of the work; groups come before them."""
