"""How often what was said of past jobs held."""

import numpy as np
import pytest
from scipy import stats

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.past_opinions import Opinion, track_record


def of_dial(decided: str | None, **said: float) -> Opinion:
    return Opinion(() if decided is None else (decided,), said, "looked", "fuel")


def test_how_often_it_held_when_it_said_nine_tenths() -> None:
    """18 of 20 dials had what was said with 0.9. Source: SciPy's beta distribution (Jeffreys)."""
    opinions = [of_dial("stalled/driver", stalled=0.9, sound=0.1)] * 18
    opinions += [of_dial(None, stalled=0.9, sound=0.1)] * 2
    found = track_record(opinions)
    assert found is not None
    assert [(one.low, one.high, one.count, one.held) for one in found.bins] == [
        (0.1, 0.2, 20, 2),
        (0.9, 1.0, 20, 18),
    ]
    assert found.bins[1].said == pytest.approx(0.9)
    interval = stats.beta(18.5, 2.5).interval(0.95)
    assert (found.bins[1].share_low, found.bins[1].share_high) == pytest.approx(interval)
    assert found.expected_error == pytest.approx(0.0, abs=1e-12)
    assert found.brier == pytest.approx((18 * 2 * 0.01 + 2 * 2 * 0.81) / 40)
    assert (found.overruled, found.opinions, found.statements) == (2, 20, 40)


def test_too_sure_is_seen_as_such() -> None:
    """Said 0.95 and held in half of all times: off by 0.45, for what was not said as well."""
    opinions = [of_dial(code, stalled=0.95, sender=0.05) for code in ("stalled", "sender")]
    found = track_record(opinions)
    assert found is not None
    assert found.expected_error == pytest.approx(0.45)
    assert found.overruled == 1


def test_of_the_whole_every_cause_is_a_statement_of_its_own() -> None:
    opinion = Opinion(("lamp_dim", "battery"), {"lamp_dim": 0.8, "lamp_out": 0.6}, "saw it")
    assert opinion.is_overruled
    assert opinion.statements() == ((0.8, True), (0.6, False), (0.0, True))
    assert not Opinion(("lamp_dim",), {"lamp_dim": 0.8, "lamp_out": 0.3}).is_overruled


def test_drawn_by_what_is_said_it_is_calibrated_and_covered() -> None:
    """Source: definition; causes drawn with the probability that was said of them, 4,000 times."""
    rng = np.random.default_rng(11)
    opinions = []
    for share in rng.uniform(size=4000):
        said = {"stalled": float(share), "sound": float(1 - share)}
        opinions.append(of_dial("stalled" if rng.random() < share else None, **said))
    found = track_record(opinions)
    assert found is not None
    assert found.expected_error < 0.03
    inside = [one.share_low <= one.said <= one.share_high for one in found.bins]
    assert sum(inside) >= 8


def test_where_nothing_was_said_there_is_no_record() -> None:
    assert track_record([]) is None
    assert track_record([of_dial("stalled")]) is None
    assert not of_dial("stalled").is_overruled


def test_what_cannot_be_an_opinion_is_refused() -> None:
    with pytest.raises(KnowledgeError, match="dial 'fuel' is decided to have stalled, sender"):
        Opinion(("stalled", "sender"), {}, "looked", "fuel")
    with pytest.raises(KnowledgeError, match=r"'stalled' was said with 1\.5"):
        of_dial("stalled", stalled=1.5)
