"""The JSON API: the records' functions for programs, under the same rules as the page.

docs/api.md says how it is used. A record is answered as it is (`records/views.py`), an error
always as `{"error": {"what", "where", "do"}}`.
"""

from fastapi import APIRouter

from needlewright.web.api import findings, jobs, papers, runs, schema, session, shop

ROOMS = (session, jobs, findings, runs, papers, shop)


def make_router() -> APIRouter:
    """Every operation under /api, and /openapi.json."""
    router = APIRouter()
    for room in ROOMS:
        router.include_router(room.router, prefix="/api")
    router.include_router(schema.router)
    return router
