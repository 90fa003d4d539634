"""`python -m needlewright`: the command line, where the program itself is not on the path."""

from needlewright.cli.main import run

run()
