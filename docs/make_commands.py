"""Write docs/commands.md from the command line's own definitions: `python docs/make_commands.py`.

Commands, arguments, options and defaults come from the application; only the exit codes are told
here, and a command that is missing in that table stops the script.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from typer.core import TyperGroup
from typer.main import get_command

from needlewright.cli.main import app
from needlewright.plans.sums.catalogue import names

DOCS = Path(__file__).parent
PAGE = DOCS / "commands.md"

CANNOT_BE_USED = {
    "family check": "a folder has an error; every folder is checked all the same",
    "family show": "the folder or the picture's place cannot be used",
    "family schema": "",
    "family draft": "a picture, a click, a value or the known length cannot be used, the photo is "
    "too oblique, or what was found makes no family; only what was typed is written then",
    "family calibrate": "the family, a photo or the run cannot be used, or the family cannot be "
    "written. A needle or a programme that is not told is an answer, and the code is 0",
    "family differs": "a family or the photo cannot be used, or the face is not found in it",
    "family export": "the family cannot be used or lacks a file it names, the shop does not keep "
    "it, or another file of that name is there; nothing is written",
    "family import": "the file is refused, the folder is not empty, or the shop keeps another "
    "family of that name and a new version was not asked for; nothing is left behind",
    "signal show": "the family, its signal or the bench's settings cannot be used, or a value is "
    "beyond the dial or out of the signal's range; nothing is printed then",
    "signal stated": "the family or its signal cannot be used, or what was measured is of another "
    "form. A frame that states no value is an answer, and the code is 0",
    "signal capture": "the file is no capture, is damaged, or has no such line. A violation is an "
    "answer, and the code is 0",
    "signal send": "the family, the bench's settings or a value cannot be used, a device is absent "
    "or fails, the supply leaves the family's limits, or it is a vehicle's bus and that is not "
    "said to be meant; everything is taken off the wires then",
    "signal ask": "the adapter is absent, nothing answers, or it is a vehicle's bus and that is "
    "not said to be meant",
    "signal replay": "the recording is damaged, the adapter is absent, or it is a vehicle's bus "
    "and that is not said to be meant",
    "signal constant": "the tyre size or a number cannot be used",
    "read": "the family or at least one photo cannot be used; the other photos are still read",
    "sweep": "the family, the video or the table of what was told cannot be used, the family's "
    "face is in none of its frames, the table does not fit the video, or the file is damaged, in "
    "which case what comes before is still given",
    "explain": "the family or a run cannot be used, a file holds several runs and none is named, "
    "or no row of it was commanded and read",
    "light": "the family, a photo, the healthy one or the table of a series cannot be used; the "
    "other photos are still judged",
    "repeatability": "the family or a run cannot be used, or the runs leave nothing to judge: one "
    "person alone, one photo of each position, no dial in common. Nothing is written then",
    "look": "the family or the photo cannot be used",
    "board": "a photo cannot be used, or the two do not show the same side of the same board",
    "intake": "the family or the knowledge file cannot be used, or the file cannot be written",
    "in-vehicle": "the family, the log or a photo cannot be used, a photo states no time and none "
    "is given, or log and photos do not meet. A dial that is not comparable is an answer, and the "
    "code is 0",
    "troubleshoot": "the family, the knowledge file, an answer, a run or evidence cannot be used, "
    "or one question is answered with yes and with no. Other things that do not go together are "
    "said, and the code is 0",
    "burn-in plan": "the family, a law, the table of returns, a cost or the plan cannot be used. A "
    "burn-in that does not pay is an answer, and the code is 0",
    "burn-in run": "the family, the job or the plan cannot be used, no current limit is stated, "
    "the bench has no supply or camera, another journal is there or is on, or a device ends it; "
    "what was counted is kept. A failure of the cluster that it goes on after is no such case",
    "burn-in report": "there is no journal, it is damaged or of another family, or a file cannot "
    "be written. A burn-in that is not finished is reported, and the code is 0",
    "plan": "the family, the catalogue, the findings or a table of returns cannot be used, nothing "
    "is found to be wrong, or a paper cannot be written",
    "run": "the family, the table or a photo cannot be used, or they contradict each other; "
    "nothing is written",
    "needles": "the family or the run cannot be used",
    "needle-set run": "the cluster has not been received, or the table or a photo cannot be used",
    "needle-set press": "the family, the job, the run or a table of pressed needles cannot be "
    "used, the job has no run of new movements, or no dial of the run says anything: none at rest "
    "after homing, every row on a stop",
    "needle-set height": "a length, a limit or the document of a calibration cannot be used, or "
    "the lengths do not go together. No gauge that keeps every limit is an answer, and the code "
    "is 0",
    "before-after": "the family or a run cannot be used, the two runs are one and the same, or the "
    "file cannot be written",
    "report": "an input cannot be used, or the number is taken; nothing is written",
    "certify": "an input cannot be used, the two runs are one and the same, or the number is "
    "taken; nothing is written. A cluster that does not conform is no such case: its report is "
    "made, and the code is 0",
    "rules": "",
    "demo": "the papers cannot be written",
    "shop show": "the shop cannot be opened, as with a database of a newer version",
    "shop set": "a setting cannot be used, or the shop cannot be opened",
    "shop person": "there is somebody of that name already, or nobody to leave",
    "shop instrument": "a field cannot be used, or another instrument has the number",
    "shop family": "the folder cannot be used as a family; nothing is stored",
    "shop families": "the shop keeps no family of that name",
    "shop catalogue show": "the shop's own is damaged or gone, or the file cannot be written",
    "shop catalogue set": "it cannot be used as a catalogue; nothing is changed",
    "shop catalogue reset": "the shop has none of its own",
    "shop check": "something is damaged or gone",
    "jobs new": "a field cannot be used, the tag is taken, the family is not kept, or the job it "
    "returns is of another cluster",
    "jobs list": "the shop cannot be opened",
    "jobs show": "there is no job of that tag",
    "jobs edit": "a field cannot be used, or it contradicts what is recorded; nothing is saved",
    "jobs note": "the note is empty",
    "jobs decide": "the decision or its reason is empty",
    "jobs instruments": "the shop has no instrument of a number",
    "jobs undo": "nothing was saved, or the last thing saved has left the house",
    "jobs history": "there is no job of that tag",
    "jobs receive": "a field or a photo cannot be used; nothing is saved. A part of the work that "
    "is not finished yet is no such case",
    "jobs photo": "a photo cannot be used",
    "jobs bench": "the cluster has not been received, or the table or a photo cannot be used. A "
    "photo that cannot be read in full is kept and named, and the part is not finished",
    "jobs needles": "there is no run yet",
    "jobs final": "as for `jobs bench`",
    "jobs retake": "there is no such run, or the photo cannot be used",
    "jobs read": "every photo has been read",
    "jobs reread": "there is no such run, or no such version of its family",
    "jobs stop-reading": "there is no such run, its reading is stopped, or every photo is read",
    "jobs read-on": "there is no such run, or its reading is not stopped",
    "jobs findings": "there is no job of that tag, or WHERE is no place",
    "jobs burn-ins": "there is no job or burn-in of that number, or no reason is given",
    "jobs answer": "an answer cannot be read, or is of a question or dial there is not; nothing "
    "of that text is saved",
    "jobs evidence": "a file is no evidence, or speaks of a finding or dial there is not; nothing "
    "of that file is taken in",
    "jobs plan": "there is no job of that tag, it has no plan of that number, the plan has no such "
    "option, or a paper cannot be written",
    "jobs accept": "the text is no acceptance, it is of another plan, option or price or of a day "
    "to come, the plan is accepted already, or nothing is there to take back; nothing is saved",
    "shop guides": "a guide cannot be read, does not fit the shop's catalogue or one sheet, or "
    "there is none of that name to leave out; those before it in the line are kept",
    "jobs steps": "there is no job of that tag, or it has no plan",
    "jobs tick": "the job has no plan or its work no such step; nothing is ticked",
    "jobs untick": "the job has no plan or its work no such step. One that was not ticked is said, "
    "and the code is 0",
    "jobs step-note": "the job has no plan or its work no such step, or the note is empty",
    "jobs guide": "there is no such job, guide, dial or line, or a number cannot be counted; "
    "nothing is kept",
    "jobs overrule": "there is no such dial, system or cause, or no reason",
    "jobs reject-reading": "there is no such reading, or no reason",
    "jobs reject-photo": "there is no photo at the step, no reason, or the photo was read",
    "jobs set-aside": "there is no such run, or no reason",
    "jobs report": "the run is not complete, something the paper needs is not recorded, or it "
    "replaces an older one without a reason; nothing is kept",
    "jobs certify": "as for `jobs report`. A cluster that does not conform is no such case: its "
    "report is made, and the code is 0",
    "jobs notice": "the odometer's procedure is not recorded, or it replaces a notice without a "
    "reason",
    "jobs return": "something is missing, above all an odometer whose outcome is not lawful; what "
    "was stated is saved all the same, and the job stays open",
    "jobs papers": "there is no job of that tag, or a file of a paper is damaged",
    "stock list": "the shop cannot be opened",
    "stock add": "a field cannot be used, or there is a part of that code",
    "stock add-catalogue": "the shop's catalogue cannot be read",
    "stock change": "a field cannot be used, there is no such part, or another one has the code",
    "stock receive": "there is no such part, it is kept no more, or a field cannot be used",
    "stock count": "there is no such part or batch, no reason, or something came or went since",
    "stock scrap": "there are not so many, or no reason",
    "stock use": "there are not so many, or there is no such job, part or batch; nothing is drawn",
    "stock give-back": "the job has not used so many of it",
    "stock take-back": "there is no such line, it is a job's, or it was taken back before",
    "stock history": "there is no part of that code",
    "stock reorder": "the shop cannot be opened",
    "stock batch": "there is no such part or batch",
    "stock needs": "there is no job of that tag, no plan of it, or no such option",
    "stock label": "there is no part of that code, or the file cannot be written",
    "stock import": "a line cannot be used: each is named with its number, and nothing is taken in",
    "stock export": "the file cannot be written",
    "guides": "there is no guide of that name, the family, its refit notes or the job file cannot "
    "be used, or the sheet does not fit or cannot be written",
    "sums list": "",
    **dict.fromkeys(
        (f"sums {name}" for name in names()),
        "an input is none, is out of what the sum is good for, or is of another unit, or inputs do "
        "not go together",
    ),
    "serve": "the port is taken, the shop cannot be opened, or the pass code cannot be used",
    "backup": "the file is there already or cannot be written, or an original is damaged",
    "restore": "the folder is not empty, or the file is no backup, cut short or damaged; nothing "
    "is left behind",
    "bench": "the family, a check point or a device cannot be used, or the run ends before it is "
    "finished: a bus or a camera is gone, the supply leaves its limits, needles fall to rest, none "
    "comes to stand. What was read until then is kept, and the same command goes on from there",
    "temperature-series plan": "the family or what is said of the cold cannot be used, or a "
    "temperature cannot be reached that way",
    "temperature-series run": "as for `bench`, or a temperature cannot be reached, or the cluster "
    "is not cooled. What was taken until then is kept, and the same command goes on from there",
    "temperature-series onset": "there is no series, a run cannot be read, no row says how warm "
    "the cluster was, or no move can be judged",
    "temperature-series thermometer": "there is no series, it has no step at that temperature, or "
    "a reading cannot be; nothing is changed then",
    "rehearse drive": "the family or a signal of it cannot be used, the port has a number for none "
    "of its dials, or the folder is not new or empty",
    "rehearse cluster": "the family or a signal of it cannot be used, or the video cannot be "
    "written",
    "rehearse draw": "the family cannot be used, or the folder holds files already or cannot be "
    "written; nothing is left behind",
    "version": "",
}
"""When each command leaves with 1; empty: it has no input that could fail it."""

SHARED = {
    "job-sheet": (
        "new",
        "show",
        "edit",
        "note",
        "decide",
        "instruments",
        "receive",
        "photo",
        "return",
    ),
    "job-run": (
        "bench",
        "final",
        "retake",
        "read",
        "stop-reading",
        "read-on",
        "reject-reading",
        "reject-photo",
        "set-aside",
    ),
    "jobs-findings": ("answer", "evidence", "overrule"),
    "jobs-steps": ("tick", "untick", "step-note"),
    "jobs-plan": ("accept",),
    "job-paper": ("report", "certify", "notice"),
}
"""Documents that several of the `jobs` commands print."""

SAME = {f"jobs {name}": shared for shared, names in SHARED.items() for name in names} | {
    "jobs needles": "needles",
    "needle-set run": "job-run",
    "shop set": "shop-show",
    **dict.fromkeys((f"shop catalogue {n}" for n in ("show", "set", "reset")), "shop-catalogue"),
    "restore": "backup",
    **dict.fromkeys(
        (f"stock {n}" for n in ("add", "change", "receive", "count", "scrap", "take-back")),
        "stock-part",
    ),
    **dict.fromkeys(("stock use", "stock give-back"), "stock-used"),
    "stock add-catalogue": "stock-list",
    **dict.fromkeys((f"sums {name}" for name in names()), "sums-answer"),
}
"""The schema of a command that is not named as the command."""

HEAD = """\
<!-- Written by docs/make_commands.py from the program's own definitions; change those. -->
# Commands

In the order of the work. `needlewright COMMAND --help` says the same, and
`needlewright --install-completion` teaches your shell to complete it.

| exit code | |
| --- | --- |
| 0 | done. A refusal is an answer: an unread needle or a cluster that does not conform is 0 |
| 1 | at least one input could not be used; a sentence on standard error says why |
| 2 | the command was put wrongly |
| 130 | stopped by Ctrl-C; nothing is half-written |

With `--json` a command prints one JSON document on standard output and nothing else; its schema is
linked. Numbers that are not known are `null`; `u_...` is a standard uncertainty (k = 1), while the
tables for people print U (k = 2). Frames, angles, signs and units:
[conventions.md](conventions.md).
"""


def page() -> str:
    """The whole page."""
    commands = list(_leaves(get_command(app), ()))
    index = "\n".join(f"| [`{n}`](#{_anchor(n)}) | {_first_line(c)} |" for n, c in commands)
    sections = "\n".join(_section(name, command) for name, command in commands)
    return f"{HEAD}\n| command | |\n| --- | --- |\n{index}\n\n{sections}"


def _leaves(command: Any, path: tuple[str, ...]) -> Iterator[tuple[str, Any]]:
    if not isinstance(command, TyperGroup):
        yield " ".join(path), command
        return
    for name in command.list_commands(None):
        yield from _leaves(command.get_command(None, name), (*path, name))


def _anchor(name: str) -> str:
    return f"needlewright-{name.replace(' ', '-')}"


def _first_line(command: Any) -> str:
    return _cell((command.help or "").split("\n\n", maxsplit=1)[0])


def _section(name: str, command: Any) -> str:
    shown = [p for p in command.params if p.name != "help" and not p.hidden]
    rows = "\n".join(f"| {_names(p)} | {_need(p)} | {_cell(p.help)} |" for p in shown)
    table = f"| | | |\n| --- | --- | --- |\n{rows}\n\n" if rows else ""
    usage = " ".join(("needlewright", name, *map(_usage, shown)))
    text = "\n\n".join(" ".join(part.split()) for part in command.help.split("\n\n"))
    return (
        f"## needlewright {name}\n\n{text}\n\n    {usage}\n\n{table}"
        f"{_exit_1(name)}{_document(name)}\n"
    )


def _exit_1(name: str) -> str:
    if name not in CANNOT_BE_USED:
        raise KeyError(f"docs/make_commands.py does not say when `{name}` leaves with 1")
    when = CANNOT_BE_USED[name]
    return f"Leaves with 1 when {when}.\n\n" if when else ""


def _usage(parameter: Any) -> str:
    if parameter.param_type_name == "argument":
        return str(parameter.metavar)
    words = parameter.opts[0] + ("" if parameter.is_flag else f" {_placeholder(parameter)}")
    if not parameter.required:
        return f"[{words}]"
    return f"{words} [{words} ...]" if parameter.multiple else words


def _names(parameter: Any) -> str:
    if parameter.param_type_name == "argument":
        return f"`{parameter.metavar}`"
    names = " / ".join((", ".join(parameter.opts), *parameter.secondary_opts))
    return f"`{names}`" if parameter.is_flag else f"`{names} {_placeholder(parameter)}`"


def _placeholder(parameter: Any) -> str:
    if not parameter.metavar:
        raise ValueError(f"{parameter.opts[0]}: give the option a metavar, like DIR or RUN.csv")
    return str(parameter.metavar)


def _need(parameter: Any) -> str:
    if parameter.required:
        more = parameter.nargs == -1 or parameter.multiple
        return "must, one or more" if more else "must"
    if parameter.default in (None, False):
        return ""
    value = parameter.default
    return f"`{value:g}` unless stated" if isinstance(value, float) else f"`{value}` unless stated"


def _cell(text: str | None) -> str:
    if not text:
        raise ValueError("a command, argument or option has no help")
    return " ".join(text.split()).replace("|", "\\|")


def _document(name: str) -> str:
    if name == "family schema":
        return "It prints [family.schema.json](family.schema.json)."
    schema = f"json/{SAME.get(name, name.replace(' ', '-'))}.schema.json"
    if not (DOCS / schema).is_file():
        raise FileNotFoundError(f"docs/{schema}: the document of `{name} --json` has no schema")
    return f"JSON: [{schema}]({schema})."


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
