"""The questions of intake as one HTML file: filled in on any screen, or printed and ticked.

It holds everything it needs and asks nothing of a network. What is answered becomes a short text
that the owner sends back.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from importlib import resources


@dataclass(frozen=True, slots=True)
class FormQuestion:
    """One question."""

    id: str
    words: str


@dataclass(frozen=True, slots=True)
class FormSection:
    """Questions about one dial, or about the whole."""

    id: str
    heading: str
    questions: tuple[FormQuestion, ...]
    opens: str | None = None
    """Id of the question whose yes opens the others; None: all stand open."""


@dataclass(frozen=True, slots=True)
class IntakeWords:
    """What stands around the questions."""

    title: str
    lead: str
    first_line: str
    """Heading of the text that comes back."""
    sent_by: str | None = None
    """Who sends the form: the shop's name and address."""


def intake_form(words: IntakeWords, sections: Sequence[FormSection]) -> str:
    """Write the form.

    Parameters
    ----------
    words
        What stands around the questions.
    sections
        In order.

    Returns
    -------
    str
        A whole HTML document without anything from outside.
    """
    page = (resources.files("needlewright.papers") / "intake_form.html").read_text("utf-8")
    parts = {
        "title": escape(words.title),
        "lead": escape(words.lead),
        "sent_by": "" if words.sent_by is None else f'<p dir="auto">{escape(words.sent_by)}</p>',
        "sections": "\n".join(_section(one) for one in sections),
        # inside a script element only the closing of one is dangerous
        "first_line": json.dumps(words.first_line).replace("<", "\\u003c"),
    }
    for name, part in parts.items():
        page = page.replace(f"<!--{name}-->", part)
    return page


def _section(section: FormSection) -> str:
    name = escape(section.id, quote=True)
    rows = "\n".join(_question(section, one) for one in section.questions)
    opens = "" if section.opens is None else f' data-opens="{escape(section.opens, quote=True)}"'
    return (
        f'<fieldset data-section="{name}"{opens}><legend>{escape(section.heading)}</legend>\n'
        f"{rows}\n</fieldset>"
    )


def _question(section: FormSection, question: FormQuestion) -> str:
    name = escape(f"{section.id}.{question.id}", quote=True)
    id_ = escape(question.id, quote=True)
    choices = "".join(
        f'<label><input type="radio" name="{name}" value="{value}"{checked}> {said}</label>'
        for value, said, checked in (
            ("yes", "yes", ""),
            ("no", "no", ""),
            ("", "not known", " checked"),
        )
    )
    return (
        f'<div class="question" data-question="{id_}" role="radiogroup" '
        f'aria-label="{escape(question.words, quote=True)}">'
        f"<p>{escape(question.words)}</p><div>{choices}</div></div>"
    )
