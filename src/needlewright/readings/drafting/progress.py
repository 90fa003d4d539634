"""How far a draft is, told while it is made."""

from collections.abc import Callable
from typing import Literal

Stage = Literal["marks", "face", "pictures", "again", "needles"]
"""What is being done, in this order: the marks of every dial and their plane; the face laid flat;
the face found in other pictures; the marks found again on the face under the needles; the needles
measured."""

Progress = Callable[[Stage, int, int], None]
"""Called with a stage, how many of its steps are done, and of how many; the last call of a stage
says all. A stage there is nothing to do in is left out."""


def tell_nobody(stage: Stage, done: int, of: int) -> None:
    """For a draft nobody waits for."""
