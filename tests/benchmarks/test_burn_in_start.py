"""What a burn-in names of old faults: few of them drawn, and the physics they are drawn by."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from benchmarks.burn_in_start import Bench, drawn_by_numbers, stood_of

from needlewright.rehearsal.invent import generate_family


def test_a_drag_is_named_in_one_dial_and_nothing_of_the_sound_ones(tmp_path: Path):
    dial = generate_family(201, tmp_path / "face").dials[0]
    sound, dragging = (
        stood_of(dial, "stepper", *one) for one in (("sound", 0.0), ("dragging", 0.3))
    )
    # a stepper's sound train has 0.1 deg of play (MovementFigures); friction of 0.3 deg comes twice
    assert 0.0 < float(np.max(sound.down - sound.up[:-1])) < 0.1
    assert float(np.max(dragging.down - dragging.up[:-1])) == pytest.approx(0.43, abs=0.1)
    rng = np.random.default_rng(3)
    bench = Bench(0.15, dial.movement.repeatability_deg, 6, 0.005)
    seen = [drawn_by_numbers(dragging, sound, bench, rng) for _ in range(20)]
    assert [(mine, others) for mine, others, _ in seen] == [(True, False)] * 20
