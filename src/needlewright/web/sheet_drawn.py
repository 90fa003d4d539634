"""What a run says is drawn once while nothing it rests on changes: a long run has 800 rows."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from needlewright.web.sheet_run_view import DialView, RunView


@dataclass(frozen=True, slots=True)
class _Drawing:
    """Everything the results of a run are drawn from; no form with its token is among them."""

    dials: tuple[DialView, ...]
    side: str
    unread: bool
    tag: str
    language: str
    draw: Callable[[], Markup] = field(compare=False)


@pass_context
def drawn_once(
    context: Context, results: Callable[[RunView, str], Markup], run: RunView, side: str
) -> Markup:
    """The results of a run.

    Parameters
    ----------
    context
        Of the template.
    results
        The template's macro that draws them.
    run
        The run.
    side
        Which side it is of.

    Returns
    -------
    Markup
        Drawn anew where a dial was judged anew.
    """
    return _drawn(
        _Drawing(
            run.dials,
            side,
            bool(run.unread),
            context["job"].tag,
            context["t"].code,
            lambda: results(run, side),
        )
    )


@lru_cache(maxsize=8)
def _drawn(drawing: _Drawing) -> Markup:
    return drawing.draw()
