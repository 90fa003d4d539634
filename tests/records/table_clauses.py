"""The columns and constraints of a table, out of the statement that makes it."""

import re


def clause_lines(statement: str) -> list[str]:
    """What stands between the outer brackets, also of a column added to the last line."""
    inside = " ".join(statement.partition("(")[2].rpartition(")")[0].split())
    return [clause.strip() for clause in re.split(r",(?![^(]*\))", inside)]
