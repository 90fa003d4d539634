"""A run explained for a person: what every dial's rows say, its document and its chart."""

from collections.abc import Mapping
from typing import Any

from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.findings.key_cycle import KeyCycleFinding, judge_key_cycle, rest_looks
from needlewright.findings.signatures.explain import Explanation, explain_dial
from needlewright.findings.signatures.knowledge import Knowledge
from needlewright.findings.signatures.words import NAMES, reason_of
from needlewright.findings.wording import share_words
from needlewright.papers.signature_chart import SignatureChart, SignaturePoint
from needlewright.readings.runs import Run
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people

Explained = Mapping[str, Explanation]
KeyCycles = Mapping[str, KeyCycleFinding]


def explain_run(family: Family, run: Run, knowledge: Knowledge | None = None) -> Explained:
    """Explain every dial of a run.

    Parameters
    ----------
    family
        The cluster design.
    run
        Completed with it.
    knowledge
        What is taken to be known beforehand; None: what travels with the program.

    Returns
    -------
    Mapping
        Dial to what its rows say, in the family's order; dials without a row are left out.

    Raises
    ------
    RunError
        If no dial has a row that says anything.
    """
    found = _explained(family, run, knowledge)
    if not found:
        raise RunError(
            f"run '{run.name}' has no row in which a needle was commanded and read; read its "
            "photos, or type what was shown under 'indicated'"
        )
    return found


def explain_with_rests(
    family: Family, run: Run, knowledge: Knowledge | None = None
) -> tuple[Explained, KeyCycles]:
    """Explain a run by its commanded rows, and by its rests over key-ons.

    Parameters
    ----------
    family
        The cluster design.
    run
        Completed with it.
    knowledge
        What is taken to be known beforehand; None: what travels with the program.

    Returns
    -------
    tuple
        What the commanded rows say, and what the rests say; either may be empty, not both.

    Raises
    ------
    RunError
        If no dial has a row that says anything.
    """
    rests = key_cycles(family, run)
    found = _explained(family, run, knowledge)
    looks = (look for dial in family.dials for look in rest_looks(run.of_dial(dial.id)))
    counts = sorted({look.key_ons for look in looks})
    if not found and not rests and len(counts) > 1:
        raise RunError(
            f"run '{run.name}' has needles at rest after {', '.join(map(str, counts))} key-ons "
            "and nothing commanded; a key-on test wants three counts, like 0, 1, 3, 5"
        )
    return (found if found or rests else explain_run(family, run)), rests


def _explained(family: Family, run: Run, knowledge: Knowledge | None = None) -> Explained:
    return {
        dial.id: explained
        for dial in family.dials
        if (explained := explain_dial(dial, run.of_dial(dial.id), knowledge)) is not None
    }


def key_cycles(family: Family, run: Run) -> KeyCycles:
    """What the rest angles over key-ons say of every dial of a run.

    Parameters
    ----------
    family
        The cluster design.
    run
        Completed with it.

    Returns
    -------
    Mapping
        Dial to what its rests say, in the family's order; dials that were not looked at, at rest,
        at three counts of key-ons are left out.
    """
    return {
        dial.id: found
        for dial in family.dials
        if (found := judge_key_cycle(dial, run.of_dial(dial.id))) is not None
    }


def key_cycles_document(found: KeyCycles) -> dict[str, Any]:
    """The key-on tests of a run as `needlewright explain --json` gives them."""
    return {
        dial: {
            "rests": [
                {
                    "key_ons": look.key_ons,
                    "angle_deg": round(look.angle_deg, 4),
                    "u_angle_deg": round(look.u_deg, 4),
                }
                for look in one.looks
            ],
            "faults": [{"fault": fault, "probability": share} for fault, share in one.faults],
            "crept_deg": round(one.crept_deg, 4),
            "u_crept_deg": round(one.u_crept_deg, 4),
            "left_deg": round(one.left_deg, 4),
            "creeps_home_ratio": float(f"{one.ratio:.6g}"),
            "reason": one.words,
        }
        for dial, one in found.items()
    }


def explained_document(found: Explained) -> dict[str, Any]:
    """The dials of a run as `needlewright explain --json` gives them."""
    return {
        dial: {
            "faults": [
                {
                    "fault": fault.fault,
                    "probability": fault.probability,
                    "size": _six(fault.size),
                    "u_size": _six(fault.u_size),
                    "unit": fault.unit,
                }
                for fault in one.faults
            ],
            "combined": list(one.combined),
            "reason": reason_of(one),
        }
        for dial, one in found.items()
    }


def _six(number: float | None) -> float | None:
    return None if number is None else round(number, 6)


def signature_chart(title: str, one: Explanation) -> SignatureChart:
    """The chart of one dial.

    Parameters
    ----------
    title
        Its heading.
    one
        What its rows say.

    Returns
    -------
    SignatureChart
        Readings, and what the most probable explanation and the next one make of them.
    """
    rows, best, second = one.rows, one.winner, one.runner_up
    points = tuple(
        SignaturePoint(
            true_value=row.commanded or 0.0,
            error_deg=float(rows.error_deg[i]),
            expanded_deg=COVERAGE_K * float(rows.u_read_deg[i]),
            approach="up" if row.approach == "up" else "down",
            best_deg=float(best.model_deg[i]),
            next_deg=float(second.model_deg[i]),
            on_stop=bool(rows.on_stop[i]),
            aside=best.wild == i,
        )
        for i, row in enumerate(rows.rows)
    )
    scale = rows.dial.scale
    return SignatureChart(
        title=title,
        best=_words(one, 0),
        next=_words(one, next(i for i, (_, h) in enumerate(one.hypotheses) if h is second)),
        unit=unit_for_people(rows.dial.unit),
        marks=tuple(zip(scale.values, scale.angles_deg, strict=True)),
        points=points,
        coverage_k=COVERAGE_K,
    )


def _words(one: Explanation, place: int) -> str:
    probability, hypothesis = one.hypotheses[place]
    names = " and ".join(NAMES[code] for code in hypothesis.members)
    return f"{names}, {share_words(probability)}"
