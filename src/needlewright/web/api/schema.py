"""The API's own description, built once and fetched from nowhere."""

from typing import Any, Final

from fastapi import APIRouter, FastAPI, Request
from fastapi.openapi.utils import get_openapi
from starlette.responses import JSONResponse

from needlewright import __version__

ERROR: Final[dict[str, Any]] = {
    "type": "object",
    "properties": {
        "error": {
            "type": "object",
            "properties": {
                "what": {"type": "string", "description": "What is wrong."},
                "where": {"type": "string", "description": "Where; may be empty."},
                "do": {"type": "string", "description": "What to do next; may be empty."},
            },
            "required": ["what", "where", "do"],
        }
    },
    "required": ["error"],
}
STATUSES: Final = {
    "401": "Not signed in (with --lan).",
    "403": "Without the form token, or from another site.",
    "404": "The records do not have it.",
    "409": "Somebody else saved the same field since.",
    "413": "More was sent than is taken.",
    "422": "Something sent cannot be used.",
    "507": "The disk is full; nothing was saved.",
}
SAVING: Final = {"post", "put", "patch", "delete"}

router = APIRouter(include_in_schema=False)


@router.get("/openapi.json")
def description(request: Request) -> JSONResponse:
    """OpenAPI of everything under /api."""
    return JSONResponse(describe(request.app))


def describe(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI document of an application.

    Parameters
    ----------
    app
        With the API in it.

    Returns
    -------
    dict
        Every error in the one form, every saving operation with its token.
    """
    if app.openapi_schema is None:
        document = get_openapi(
            title="Needlewright",
            version=__version__,
            description="The shop's records for programs. See docs/api.md.",
            routes=app.routes,
        )
        _put_errors(document)
        app.openapi_schema = document
    return app.openapi_schema


def _put_errors(document: dict[str, Any]) -> None:
    components = document.setdefault("components", {})
    schemas = components.setdefault("schemas", {})
    schemas["Error"] = ERROR
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    components["securitySchemes"] = {
        "form_token": {"type": "apiKey", "in": "header", "name": "X-Form-Token"}
    }
    content = {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}}
    for path in document["paths"].values():
        for method, operation in path.items():
            for status, words in STATUSES.items():
                operation["responses"][status] = {"description": words, "content": content}
            if method in SAVING:
                operation["security"] = [{"form_token": []}]
