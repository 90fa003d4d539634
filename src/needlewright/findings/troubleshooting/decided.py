"""What is believed once a person has decided what a dial or a system has.

A decision stands over what analyses say of its own subject; what it leaves of the rest is worked
out as always.
"""

from collections.abc import Collection
from dataclasses import replace
from typing import Final

import numpy as np

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.model import code_of

NEVER: Final = 1e-14
"""Weight of a combination that was decided against: shares are taken within each, so none is 0."""


def dial_decided(belief: Belief, dial: str, code: str) -> Belief:
    """What is believed when a dial has one cause for certain, or none.

    Parameters
    ----------
    belief
        With everything else that is known.
    dial
        Its id.
    code
        Of a cause of a dial, or `sound`.

    Returns
    -------
    Belief
        The cause is responsible for what was seen of the dial. The one given is left as it was.

    Raises
    ------
    KnowledgeError
        If there is no such dial or cause.
    """
    if dial not in belief.of_dial:
        raise KnowledgeError(f"there is no dial '{dial}'; known: {', '.join(belief.dials)}")
    codes = [code_of(state) for state in belief.states]
    if code not in codes:
        known = ", ".join(dict.fromkeys(codes))
        raise KnowledgeError(f"'{code}' is no cause of a dial; known: {known}")
    is_it = np.array([one == code for one in codes])
    own = np.where(is_it, belief.of_dial[dial], 0.0)
    if not own.any():  # an analysis held it for impossible; a person saw it
        own = np.where(is_it, np.ones_like(own), 0.0)
    # nothing else can have made what was seen of this dial
    innocent = {**belief.innocent, dial: np.where(is_it, 0.0, 1.0)}
    return replace(belief, of_dial={**belief.of_dial, dial: own / own.max()}, innocent=innocent)


def causes_decided(belief: Belief, there: Collection[str], absent: Collection[str]) -> Belief:
    """What is believed when some causes of the whole are there for certain, and some are not.

    Parameters
    ----------
    belief
        With everything else that is known.
    there
        Codes of causes of the whole that are there.
    absent
        Codes of those that are not.

    Returns
    -------
    Belief
        The one given is left as it was.

    Raises
    ------
    KnowledgeError
        If a code is none of a cause of the whole, or is both.
    """
    for code in (*there, *absent):
        if code not in belief.whole:
            raise KnowledgeError(
                f"'{code}' is no cause of the whole; known: {', '.join(belief.whole)}"
            )
        if code in there and code in absent:
            raise KnowledgeError(f"'{code}' cannot be there and not be there; decide one of both")
    fits = np.ones(len(belief.weights), bool)
    for place, code in enumerate(belief.whole):
        if code in there:
            fits &= belief.there[:, place]
        elif code in absent:
            fits &= ~belief.there[:, place]
    kept = np.where(fits, belief.weights, 0.0)
    if not kept.any():  # held for impossible, and yet seen
        kept = fits.astype(np.float64)
    return replace(belief, weights=np.maximum(kept / kept.max(), NEVER))
