"""A photo's readings as rows, and what counted before."""

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.readings.evidence import ProjectionEvidence
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.projection import Projection
from needlewright.records.opening import Shop
from needlewright.records.tables import RunPhoto, RunReading


def put_away_readings(session: Session, photo: RunPhoto) -> dict[str, int]:
    """Let the readings of a photo count no more; their ids by dial."""
    query = select(RunReading).where(RunReading.photo_id == photo.id, RunReading.shown.is_(True))
    older = {}
    for row in session.scalars(query):
        row.shown = False
        older[row.dial] = row.id
    session.flush()
    return older


def reading_row(
    shop: Shop, photo: RunPhoto, reading: Reading, replaces_id: int | None
) -> RunReading:
    """Every field of a reading."""
    return RunReading(
        photo_id=photo.id,
        dial=reading.dial,
        status=reading.status,
        unit=reading.unit,
        reason=reading.reason,
        angle_deg=reading.angle_deg,
        u_angle_deg=reading.u_angle_deg,
        value=reading.value,
        u_value=reading.u_value,
        offset_mm=reading.offset_mm,
        flags=list(reading.flags),
        components_deg=[list(component) for component in reading.components_deg],
        line_px=None if reading.line_px is None else [list(end) for end in reading.line_px],
        read_at=shop.now(),
        replaces_id=replaces_id,
    )


def projection_of(outcome: PhotoReadings) -> dict[str, Any] | None:
    """Where the face plane lay in the photo, as plain numbers."""
    seen = outcome.projection
    if not isinstance(seen, Projection):
        return None
    return ProjectionEvidence(
        matrix=seen.matrix.tolist(),
        radial=float(seen.radial),
        centre_px=seen.centre_px,
        half_diagonal_px=seen.half_diagonal_px,
    ).model_dump(mode="json")


def own_name(reason: str, path: str, name: str) -> str:
    """The sentence with the name the person knows instead of the place in the store."""
    return reason.replace(path, name)
