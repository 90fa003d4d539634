"""Laws of wear out of a shop's own records."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import select

from needlewright.composing.job_plan import make_job_plan
from needlewright.composing.plan_making import PlanTerms
from needlewright.composing.shop_lives import taught_by_shop
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.wear.fit import Lives, fit_weibull
from needlewright.plans.wear.weibull import Weibull
from needlewright.records.opinions import Decided, give_opinion
from needlewright.records.plan_acceptances import accept_plan
from needlewright.records.plans import keep_plan
from needlewright.records.tables import (
    Cluster,
    FamilyVersion,
    Job,
    Opinion,
    Person,
    Received,
    Returned,
)
from records.benches import ANNA, FAMILY_FOLDER, bench, new

DAY = datetime(2026, 3, 2, 12, tzinfo=UTC)
TRUE = Weibull(2.5, 12.0)
KNOWN = load_knowledge(None)
STATED = load_catalogue(KNOWN, load_family(FAMILY_FOLDER))


@pytest.fixture(autouse=True)
def plainly(monkeypatch):
    """Without what would change a plan: slow, and it has its own tests."""
    monkeypatch.setattr("needlewright.plans.rebuild.plan.switches_of", lambda _: ())


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        yield one


def taught(opened, **more):
    family = load_family(FAMILY_FOLDER)
    return taught_by_shop(opened, family, KNOWN, STATED, DAY.date(), **more).weak_points


def stay(opened, tag, ago, decided=("dial", "fuel", ()), **cluster):
    """A job that came so many days ago, was decided on, and left ten days later."""
    new(opened, tag, **{"serial": "S-1", "built": "2012-07-01"} | cluster)
    kind, of, causes = decided
    part = "movement" if causes == ("lost_steps",) else None
    said = Decided(causes, "seen at the bench", {}, part=part, **{kind: of})
    give_opinion(opened, tag, said, ANNA)
    moved(opened, tag, ago)


def moved(opened, tag, ago):
    with opened.writing("days of a test") as session:
        job = session.scalars(select(Job).where(Job.tag == tag)).one()
        job.opened_at = DAY - timedelta(days=ago)
        job.closed_at = job.opened_at + timedelta(days=10)


SLIPS = ("dial", "fuel", ("lost_steps",))


def test_what_left_sound_and_came_back_failed(opened):
    stay(opened, "A-1", 800)
    stay(opened, "A-2", 400, SLIPS)
    worn = taught(opened)["movement_worn"]
    # one movement failed; those of the three other dials were sound twice
    assert worn.lives == (1, 7 - 1)
    assert worn.learned.startswith("scale, shape as stated, from 1 failure and 6 that still run")
    lamps = taught(opened)["lamps_aged"]
    assert (lamps.lives, lamps.law, lamps.learned) == (
        (0, 2),
        STATED.weak_points["lamps_aged"].law,
        "",
    )
    # shape 2.5: scale^2.5 = sum(age^2.5 - age watched from^2.5), by hand
    born = datetime(2012, 7, 1, 12, tzinfo=UTC)
    left = [DAY - timedelta(days=ago - 10) for ago in (800, 400)]
    came, ends = DAY - timedelta(days=400), DAY
    spans = [(left[0], came)] * 4 + [(left[1], ends)] * 3
    ages = [tuple((day - born).days / 365.2425 for day in one) for one in spans]
    total = sum(end**2.5 - first**2.5 for first, end in ages)
    assert worn.law.scale == pytest.approx(total**0.4, rel=2e-3)  # ages are taken to a tenth
    assert worn.law.shape == 2.5


@pytest.mark.parametrize(
    ("change", "lives"),
    [
        ({"serial": None}, None),  # it would not be known again when it comes back
        ({"built": None}, None),  # how old it was is not known
        ({"decided": SLIPS}, (0, 3)),  # its movement was at fault: only the others are watched
        ({"decided": ("dial", "fuel", ("dragging",))}, (0, 4)),
        ({"decided": ("system", "lamps", ("lamp_out",))}, (0, 4)),
    ],
)
def test_what_is_watched(opened, change, lives):
    stay(opened, "A-1", 300, **change)
    assert taught(opened)["movement_worn"].lives == lives


def test_a_job_that_nobody_decided_on_tells_nothing_without_a_plan(opened):
    new(opened, "A-1", serial="S-1", built="2012")
    moved(opened, "A-1", 300)
    assert taught(opened)["movement_worn"].lives is None


def test_what_findings_said_and_what_was_done_is_taken_from_the_plan(opened):
    new(opened, "A-1", serial="S-1", built="2012", complaint="")
    faults = (
        (("fuel", "lost_steps"), 0.93),
        (("temp", "lost_steps"), 0.5),
        (("whole", "lamp_out"), 1.0),
    )
    give_opinion(opened, "A-1", Decided((), "sound", {}, dial="speed"), ANNA)
    document = make_job_plan(opened, "A-1", PlanTerms(faults=faults))
    keep_plan(opened, "A-1", document, ANNA)
    moved(opened, "A-1", 300)
    # fuel is at fault, temp may be, speed and engine are sound
    assert taught(opened)["movement_worn"].lives == (0, 2)
    accepted = {"who": "C. Ustomer", "when": DAY.date(), "how": "in person"}
    accept_plan(opened, "A-1", document["number"], ANNA, option="everything", **accepted)
    after = taught(opened)
    # all movements are new, and their lives begin with that
    assert after["movement_worn"].lives == (0, 4)
    assert after["lamps_aged"].lives == (0, 1)


def drawn_into(opened, clusters):
    """Clusters that came for something else, and again once a lamp failed under warranty.

    Returns the lives of the lamps as they were drawn, each watched from the day it left.
    """
    rng = np.random.default_rng(20260302)
    failed, running, failed_from, running_from = [], [], [], []
    with opened.writing("a drawn shop") as session:
        version = session.scalars(select(FamilyVersion)).first()
        person = session.scalars(select(Person)).first()
        for number in range(clusters):
            years = rng.uniform(5, 15)
            came = DAY - timedelta(days=int(rng.uniform(800, 2500)))
            born = came - timedelta(days=int(years * 365.2425))
            cluster = Cluster(family="fam-job", serial=f"D-{number}", built=born.date().isoformat())
            session.add(cluster)
            # of lamps that live at this age: (t / scale)^shape is exponential from there
            life = (years / TRUE.scale) ** TRUE.shape + rng.exponential()
            days = (TRUE.scale * life ** (1 / TRUE.shape) - years) * 365.2425
            is_back = 10 < days < 740
            (failed_from if is_back else running_from).append(years + 10 / 365.2425)
            (failed if is_back else running).append(
                years + (days if is_back else 10 + 730) / 365.2425
            )
            for tag, day, causes in (
                (f"{number}-a", came, []),
                (f"{number}-b", came + timedelta(days=int(days)), ["lamp_out"]),
            )[: 1 + is_back]:
                job = _job(session, tag, day, cluster=cluster, family_version=version)
                said = {"system": "lamps", "said": {}, "decided": causes, "why": "drawn"}
                session.add(Opinion(job_id=job.id, at=day, person=person, **said))
    return Lives(*map(tuple, (failed, running, failed_from, running_from)))


def _job(session, tag, came, **of):
    left = came + timedelta(days=10)
    job = Job(tag=tag, tag_key=tag, opened_at=came, closed_at=left, **of)
    session.add(job)
    session.flush()
    session.add_all([Received(job_id=job.id), Returned(job_id=job.id)])
    return job


def test_lives_that_were_drawn_come_back_out_of_the_records_as_their_law(opened):
    """From Weibull 2.5 and 12 years, through the records to the plan.

    That such a law holds the truth is tested by itself (tests/plans/test_follow_up.py).
    """
    drawn = drawn_into(opened, 200)
    failed, sound = len(drawn.failed), len(drawn.running)
    lamps = taught(opened)["lamps_aged"]
    assert lamps.lives == (failed, sound)
    assert failed + sound == 200
    law = fit_weibull(drawn).law
    # in the records ages are taken to a tenth of a year, and days are whole
    assert (lamps.law.shape, lamps.law.scale) == (
        pytest.approx(law.shape, rel=5e-3),
        pytest.approx(law.scale, rel=5e-3),
    )
    assert lamps.learned.startswith(
        f"shape and scale from {failed} failures and {sound} that still"
    )
    # and a plan says what its law came from
    new(opened, "T-1", serial="S-1", built="2016")
    give_opinion(opened, "T-1", Decided(("blocked",), "seen", {}, dial="engine"), ANNA)
    document = make_job_plan(opened, "T-1")
    (said,) = (one for one in document["weak_points"] if one["id"] == "lamps_aged")
    assert said["lives"] == {"failed": failed, "sound": sound}
    assert (said["learned"], said["shape"]) == (lamps.learned, round(lamps.law.shape, 4))
