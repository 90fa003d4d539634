"""What photos of lamps say, as evidence.

A photo from the bench answers the tests of the bench, one that the owner took in the vehicle the
questions to the owner: both ask about the same light, and the same photo must not count twice.
"""

from collections.abc import Sequence
from math import prod
from typing import Final, Literal

from needlewright.findings.evidence import Evidence
from needlewright.findings.lamps.fading import LEAST_LOSS, Fading
from needlewright.findings.lamps.rates import held, odds_ratio
from needlewright.findings.lamps.signs import PRIOR_DEAD, SignState
from needlewright.findings.lamps.zones import PRIOR, FaceState, State, ZoneState
from needlewright.findings.wording import share_words

Place = Literal["bench", "vehicle"]
FINDINGS: Final = {
    "bench": {
        "dark": "lamp_check_dark",
        "dim": "lamp_check_dim",
        "tell_tale": "tell_tale_check",
        "segment": "display_segments",
        "fading": "display_check",
    },
    "vehicle": {
        "dark": "zone_dark",
        "dim": "lights_weak",
        "tell_tale": "tell_tale_missing",
        "segment": "display_missing",
        "fading": "display_fades",
    },
}
"""Place to what is judged to the finding it answers."""
EVEN: Final = 0.5
"""What a line's own probability was before any photo: nothing was assumed of its slope."""
LONG_ENOUGH_MIN: Final = 15.0
"""A shorter series shows a display that fades at once, and never that one does not."""
ANALYSIS: Final = "light"
"""Photos of one camera, judged one way: two of them are not independent."""
WARM: Final = "temperature_c"


def zone_evidence(face: FaceState, seen_in: str, place: Place = "bench") -> tuple[Evidence, ...]:
    """What the zones of a face say.

    Parameters
    ----------
    face
        Judged.
    seen_in
        The photo, for people.
    place
        Where it was taken.

    Returns
    -------
    tuple of Evidence
        Whether a zone is dark, and whether one is dim; none where no zone was seen.
    """
    seen = [zone for zone in face.zones if zone.probabilities is not None]
    if len(seen) < 2:
        return ()
    by_print = face.face.reference == "print"
    return tuple(_any(seen, state, seen_in, place, by_print) for state in ("dark", "dim"))


def _any(
    seen: list[ZoneState], state: State, seen_in: str, place: Place, by_print: bool
) -> Evidence:
    shares = [(zone.probabilities or {}).get(state, 0.0) for zone in seen]
    none = prod(1 - share for share in shares)
    before = 1 - (1 - PRIOR[state]) ** len(seen)
    ratio = held(f"{state}, print" if by_print else state, odds_ratio(1 - none, before))
    worst = seen[max(range(len(seen)), key=lambda i: shares[i])]
    if max(shares) <= 0.5:
        least = min(seen, key=lambda zone: zone.seen.light or 0.0)
        words = f"no zone is {state}: the least lit, {_words(least)}"
        return Evidence(FINDINGS[place][state], None, ratio, words, seen_in, analysis=ANALYSIS)
    words = f"{_words(worst)}: {state} at {share_words(max(shares))}"
    light, u = worst.seen.light, worst.seen.u_light
    finding = FINDINGS[place][state]
    return Evidence(finding, None, ratio, words, seen_in, light, u, "ratio", analysis=ANALYSIS)


def _words(zone: ZoneState) -> str:
    light, u = zone.seen.light or 0.0, zone.seen.u_light or 0.0
    return (
        f"zone {zone.seen.zone.number} ({zone.seen.zone.id}) has {100 * light:.0f} ± "
        f"{200 * u:.0f} % of the light of the brightest"
    )


def sign_evidence(
    signs: Sequence[SignState], seen_in: str, place: Place = "bench"
) -> tuple[Evidence, ...]:
    """What tell-tales and segments say.

    Parameters
    ----------
    signs
        Judged.
    seen_in
        The photo, for people.
    place
        Where it was taken.

    Returns
    -------
    tuple of Evidence
        One for tell-tales, one for segments, of those that were seen.
    """
    made = []
    for kind, name in (("tell_tale", "sign"), ("segment", "segment")):
        seen = [(one, one.dark) for one in signs if one.kind == kind and one.dark is not None]
        if not seen:
            continue
        none = prod(1 - dark for _, dark in seen)
        before = 1 - (1 - PRIOR_DEAD) ** len(seen)
        ratio = held(name, odds_ratio(1 - none, before))
        dark = [f"{one.id} ({share_words(share)})" for one, share in seen if share > 0.5]
        what = "tell-tales" if kind == "tell_tale" else "segments"
        words = (
            f"dark of {len(seen)} {what}: {', '.join(dark)}"
            if dark
            else f"all {len(seen)} {what} that could be seen light"
        )
        finding = FINDINGS[place][kind]
        made.append(Evidence(finding, None, ratio, words, seen_in, analysis=ANALYSIS))
    return tuple(made)


def fading_evidence(fading: Fading, seen_in: str, place: Place = "bench") -> tuple[Evidence, ...]:
    """What a series of photos of a display says.

    Parameters
    ----------
    fading
        The line through it.
    seen_in
        The series, for people.
    place
        Where it was taken.

    Returns
    -------
    tuple of Evidence
        Whether it fades.
    """
    ratio = held("fading", odds_ratio(fading.fades, EVEN))
    span = fading.points[-1].at - fading.points[0].at
    if fading.against != WARM and span < LONG_ENOUGH_MIN:
        ratio = max(ratio, 1.0)
    over = f"over {span:.3g} {'°C' if fading.against == WARM else 'min'}"
    low, high = fading.lost_within
    words = (
        f"the display lost {100 * fading.lost:.0f} % of its light {over}, {100 * low:.0f} to "
        f"{100 * high:.0f} % (95 %); more than {100 * LEAST_LOSS:.0f} % at "
        f"{share_words(fading.fades)}"
    )
    return (
        Evidence(
            FINDINGS[place]["fading"],
            None,
            ratio,
            words,
            seen_in,
            1 - fading.lost,
            fading.u_lost,
            "ratio",
            analysis=ANALYSIS,
        ),
    )
