"""Exact probabilities of causes and parts, from tables of what was said."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.model import Answer, Finding, Knowledge, code_of, part_of
from needlewright.findings.troubleshooting.tables import Array


@dataclass(frozen=True, slots=True)
class Posterior:
    """Probabilities of all causes.

    Parameters
    ----------
    knowledge
        What they rest on.
    dials
        Ids.
    whole
        Codes of the causes of the whole.
    states
        Of a dial: `sound`, then its causes as `code/part`, or `code` where no parts are told
        apart.
    there
        Combinations x causes of the whole: whether it is there.
    weights
        Of each combination, without what the dials say.
    of_dial
        Of each dial, combinations x states: prior times likelihood.
    """

    knowledge: Knowledge
    dials: tuple[str, ...]
    whole: tuple[str, ...]
    states: tuple[str, ...]
    there: NDArray[np.bool_]
    weights: Array
    of_dial: Mapping[str, Array]

    def dial(self, dial: str) -> dict[str, float]:
        """Probability of every cause of a dial, in whatever part it lies.

        Parameters
        ----------
        dial
            Its id.

        Returns
        -------
        dict
            By code, `sound` included; sums to one.
        """
        self._require_dial(dial)
        found = dict[str, float]()
        for state, probability in zip(self.states, self._states_of(dial), strict=True):
            code = code_of(state)
            found[code] = found.get(code, 0.0) + probability
        return found

    def parts(self, dial: str) -> dict[str, float]:
        """Probability that a dial's fault lies in a part, whatever the fault.

        Parameters
        ----------
        dial
            Its id.

        Returns
        -------
        dict
            By part, for the parts of the knowledge file; what is missing to one is a sound dial,
            or a cause in no part that is told apart.
        """
        self._require_dial(dial)
        found = dict.fromkeys(self.knowledge.parts, 0.0)
        for state, probability in zip(self.states, self._states_of(dial), strict=True):
            part = part_of(state)
            if part is not None:
                found[part] += probability
        return found

    def states_of(self, dial: str) -> dict[str, float]:
        """Probability of every state of a dial: `sound`, `code` or `code/part`.

        Parameters
        ----------
        dial
            Its id.

        Returns
        -------
        dict
            Sums to one.
        """
        self._require_dial(dial)
        return dict(zip(self.states, self._states_of(dial), strict=True))

    def of_whole(self) -> dict[str, float]:
        """Probability of every cause of the whole, by code; they may be there together."""
        joint = self.combinations()
        present = joint @ self.there / joint.sum()
        return dict(zip(self.whole, present.tolist(), strict=True))

    def nothing(self) -> float:
        """Probability that no cause at all is there."""
        joint = self.combinations()
        share = 1.0
        for own in self.of_dial.values():
            share *= float(own[0, 0] / own[0].sum())
        return float(joint[0] / joint.sum()) * share

    def combinations(self) -> Array:
        """Weights of the combinations with what every dial says of them."""
        joint = self.weights
        for own in self.of_dial.values():
            joint = joint * own.sum(axis=1)
        return joint

    def _states_of(self, dial: str) -> list[float]:
        own = self.of_dial[dial]
        joint = (self.combinations() / own.sum(axis=1)) @ own
        return [float(one) for one in joint / joint.sum()]

    def _require_dial(self, dial: str) -> None:
        if dial not in self.of_dial:
            raise KnowledgeError(f"there is no dial '{dial}'; known: {', '.join(self.dials)}")

    def _finding(self, answer: Answer) -> Finding:
        finding = self.knowledge.findings.get(answer.finding)
        if finding is None:
            raise KnowledgeError(
                f"there is no question or test '{answer.finding}'; known: "
                f"{', '.join(sorted(self.knowledge.findings))}"
            )
        if finding.scope == "whole" and answer.dial is not None:
            raise KnowledgeError(
                f"'{answer.finding}' is of the whole cluster; leave dial '{answer.dial}' out"
            )
        if finding.scope == "dial":
            if answer.dial is None:
                raise KnowledgeError(
                    f"'{answer.finding}' is of one dial; name it: {', '.join(self.dials)}"
                )
            self._require_dial(answer.dial)
        return finding
