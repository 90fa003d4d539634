"""A shop's returns as a table."""

from pathlib import Path

import pytest

from needlewright.errors import PlanError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.catalogue.model import Catalogue
from needlewright.plans.wear.returns import read_returns

FAMILY = Path(__file__).parents[2] / "src/needlewright/demo_data/family"
HEAD = "weak_point,age_years,age_km,failed\n"
# the handbook's example (NIST 8.4.1.3), a year for a hundred hours
LIVES = (0.54, 1.87, 2.16, 2.40, 2.44, 3.35, 3.61, 3.73, 3.75, 3.86)
ROWS = "".join(f"lamps_aged,{age},,yes\n" for age in LIVES) + "lamps_aged,5,,no\n" * 10


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue(load_knowledge(None), load_family(FAMILY))


def test_a_law_is_taken_from_returns(tmp_path: Path, catalogue: Catalogue):
    (tmp_path / "r.csv").write_text(HEAD + ROWS + "movement_worn,12,150000,yes\n", "utf-8")
    taught = read_returns(tmp_path / "r.csv", catalogue)
    lamps = taught.weak_points["lamps_aged"]
    assert lamps.law.shape == pytest.approx(1.7208, abs=5e-5)
    assert lamps.law.scale == pytest.approx(6.065280, rel=1e-6)
    assert lamps.learned == (
        "shape and scale from 10 failures and 10 that still run; with 95 % the shape is 0.906 to "
        "2.89, the scale 4.38 to 11.2 years; that it does not wear out at all is not ruled out"
    )
    worn = taught.weak_points["movement_worn"]
    assert (worn.law.shape, worn.law.scale) == (2.5, pytest.approx(12))
    # 12 (2 / chi-square)^(1 / 2.5), of 97.5 % with 4 and of 2.5 % with 2 degrees of freedom
    assert worn.learned == (
        "scale, shape as stated, from 1 failure and 0 that still run; with 95 % the scale is 6.04 "
        "to 52.2 years"
    )
    untouched = taught.weak_points["supply_joints_cracked"]
    assert untouched == catalogue.weak_points["supply_joints_cracked"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "expected the columns weak_point,age_years,age_km,failed, found nothing"),
        ("weak_point,age\n", "found weak_point,age"),
        (HEAD + "lamps,3,,yes\n", "line 2: there is no weak point 'lamps'; known: joints_cracked"),
        (HEAD + "lamps_aged,,9,yes\n", "line 2, age_years: expected an age above 0, found ''"),
        (HEAD + "lamps_aged,-3,,yes\n", "line 2, age_years: expected an age above 0, found '-3'"),
        (HEAD + "lamps_aged,3,,maybe\n", "line 2, failed: expected yes or no, found 'maybe'"),
        (HEAD + "lamps_aged,3\n", "line 2: expected 4 cells"),
        (HEAD + "lamps_aged,3,,yes\n" * 5, "returns of 'lamps_aged': all 5 lives are 3 long"),
    ],
)
def test_a_table_that_cannot_be_used(tmp_path: Path, catalogue: Catalogue, text: str, said: str):
    (tmp_path / "r.csv").write_text(text, "utf-8")
    with pytest.raises(PlanError) as refused:
        read_returns(tmp_path / "r.csv", catalogue)
    assert said in str(refused.value)
