"""A small knowledge file for tests, and a network of the same in a general-purpose library."""

from itertools import product
from pathlib import Path
from typing import Any

import pyagrum

from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Knowledge

SMALL = """
prior_weight = 10
[work]
send_minutes = 60
open_minutes = 20
check_minutes = 5
give_up_minutes = 400
source = "invented"

[pointing]
ratio = 4
source = "invented"
[part.movement]
words = "movement"
source = "invented"
[part.driver]
words = "driver"
source = "invented"

[cause.stalled]
scope = "dial"
inside = true
prior = 0.1
parts = { movement = 0.7, driver = 0.3 }
words = "dead movement"
source = "invented"
[cause.sender]
scope = "dial"
inside = false
prior = 0.2
words = "sender"
source = "invented"
[cause.erratic]
scope = "dial"
inside = true
prior = 0.05
words = "joint"
source = "invented"
[cause.corrosion]
scope = "whole"
inside = true
prior = 0.1
words = "corrosion"
brings = { stalled = 0.3, supply_joint = 0.4 }
source = "invented"
[cause.supply_joint]
scope = "whole"
inside = true
prior = 0.05
words = "joint of the supply"
brings = { erratic = 0.25 }
source = "invented"
[cause.battery]
scope = "whole"
inside = false
prior = 0.15
words = "battery"
source = "invented"

[finding.wrong]
scope = "dial"
place = "asked"
words = "Is {dial} wrong?"
opens = true
otherwise = 0.05
minutes = 1
shown_by = { stalled = 0.95, sender = 0.9, erratic = 0.8, supply_joint = 0.6, battery = 0.3 }
source = "invented"
[finding.dead]
scope = "dial"
place = "vehicle"
words = "Is {dial} dead?"
otherwise = 0.02
minutes = 8
risk_minutes = 2
shown_by = { stalled = 0.9, "stalled/driver" = 0.6, sender = 0.3 }
source = "invented"
[finding.restarts]
scope = "whole"
place = "bench"
words = "Does it restart?"
otherwise = 0.03
minutes = 10
shown_by = { supply_joint = 0.8, battery = 0.5 }
source = "invented"

[remedy.movement]
scope = "dial"
inside = true
words = "replace {dial}'s movement"
cures = { "stalled/movement" = 0.9, "stalled/driver" = 0.1, erratic = 0.4 }
minutes = 50
source = "invented"
[remedy.driver]
scope = "dial"
inside = true
words = "replace {dial}'s driver"
cures = { "stalled/driver" = 0.9 }
minutes = 45
source = "invented"
[remedy.sender]
scope = "dial"
inside = false
words = "replace {dial}'s sender"
cures = { sender = 0.95 }
minutes = 40
source = "invented"
[remedy.joints]
scope = "whole"
inside = true
words = "reflow joints"
cures = { supply_joint = 0.9, corrosion = 0.2 }
minutes = 30
source = "invented"
[remedy.battery]
scope = "whole"
inside = false
words = "charge the battery"
cures = { battery = 0.9 }
minutes = 20
source = "invented"
"""


def knowledge_in(folder: Path, text: str = SMALL) -> Knowledge:
    path = folder / "knowledge.toml"
    path.write_text(text, encoding="utf-8")
    return load_knowledge(path)


def network_of(knowledge: Knowledge, dials: tuple[str, ...]) -> Any:
    """The same as a network with tables, worked out from the file's own words alone."""
    net = pyagrum.BayesNet()
    whole = [c for c in knowledge.causes.values() if c.scope == "whole"]
    own = [c for c in knowledge.causes.values() if c.scope == "dial"]
    for cause in whole:
        net.add(pyagrum.LabelizedVariable(cause.code, "", ["no", "yes"]))
    for dial in dials:
        net.add(pyagrum.LabelizedVariable(dial, "", ["sound", *_states(own)]))
    for cause in whole:
        bringing = [c for c in whole if cause.code in c.brings]
        for other in bringing:
            net.addArc(other.code, cause.code)
        for states in product((0, 1), repeat=len(bringing)):
            absent = 1.0 - cause.prior
            for other, state in zip(bringing, states, strict=True):
                absent *= 1.0 - other.brings[cause.code] * state
            place = {other.code: s for other, s in zip(bringing, states, strict=True)}
            net.cpt(cause.code)[place] = [absent, 1.0 - absent]
    for dial in dials:
        _dial(net, dial, own, whole)
        for finding in knowledge.findings.values():
            if finding.scope == "dial":
                _finding(net, f"{finding.id}:{dial}", finding, whole, dial)
    for finding in knowledge.findings.values():
        if finding.scope == "whole":
            _finding(net, finding.id, finding, whole, None)
    return net


def by_label(inference: Any, name: str) -> dict[str, float]:
    """Posterior of one variable of the network, by the names of its states."""
    found = inference.posterior(name)
    return dict(zip(found.variable(0).labels(), found.tolist(), strict=True))


def _states(own: list[Any]) -> list[str]:
    return [f"{c.code}/{part}" for c in own for part in c.parts] + [
        c.code for c in own if not c.parts
    ]


def _dial(net: Any, dial: str, own: list[Any], whole: list[Any]) -> None:
    bringing = [c for c in whole if any(one.code in c.brings for one in own)]
    for other in bringing:
        net.addArc(other.code, dial)
    for states in product((0, 1), repeat=len(bringing)):
        weights = {"sound": 1.0 - sum(one.prior for one in own)}
        for one in own:
            absent = 1.0 - one.prior
            for other, state in zip(bringing, states, strict=True):
                absent *= 1.0 - other.brings.get(one.code, 0.0) * state
            weight = (1.0 - absent) / absent * (1.0 - one.prior)
            for part, share in one.parts.items():
                weights[f"{one.code}/{part}"] = weight * share
            if not one.parts:
                weights[one.code] = weight
        place = {other.code: s for other, s in zip(bringing, states, strict=True)}
        labels, total = net.variable(dial).labels(), sum(weights.values())
        net.cpt(dial)[place] = [weights[label] / total for label in labels]


def _finding(net: Any, name: str, finding: Any, whole: list[Any], dial: str | None) -> None:
    net.add(pyagrum.LabelizedVariable(name, "", ["no", "yes"]))
    parents = [c.code for c in whole if c.code in finding.shown_by]
    for code in parents:
        net.addArc(code, name)
    states = ["-"] if dial is None else list(net.variable(dial).labels())
    if dial is not None:
        net.addArc(dial, name)
    for on in product((0, 1), repeat=len(parents)):
        for number, state in enumerate(states):
            no = 1.0 - finding.otherwise
            for code, is_on in zip(parents, on, strict=True):
                no *= 1.0 - finding.shown_by[code] * is_on
            shown = finding.shown_by.get(state)
            if shown is None:
                shown = finding.shown_by.get(state.split("/")[0], 0.0)
            no *= 1.0 - shown
            place = dict(zip(parents, on, strict=True))
            if dial is not None:
                place[dial] = number
            net.cpt(name)[place] = [no, 1.0 - no]
