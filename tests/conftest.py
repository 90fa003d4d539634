"""What holds for every test."""

import gc
import os
import signal
import time

import pytest
from hypothesis import HealthCheck, settings

# The same examples at every run, so that no change fails by another's bad luck; and a slow machine
# is no failure: nothing here is judged by the wall clock. Look further than these examples with
# --hypothesis-profile=wander.
settings.register_profile(
    "needlewright",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("wander", settings.get_profile("needlewright"), derandomize=False)
settings.load_profile("needlewright")

# A day is that of the zone the machine is in: with a clock that is set by hand, it is the same
# wherever the tests run.
os.environ["TZ"] = "UTC"
if hasattr(time, "tzset"):
    time.tzset()

# Programs that are started to be interrupted would ignore it where this one was told to, as a shell
# does to what it leaves in the background.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

COLLECT_AFTER = 20_000
"""New objects after which the youngest are looked through for what nothing refers to; Python's own
700 would look through the libraries' hundreds of thousands of objects again and again."""


def pytest_collection_finish(session: pytest.Session) -> None:
    """Leave what was imported out of every later collection of garbage: it stays to the end."""
    del session
    gc.collect()
    gc.freeze()
    gc.set_threshold(COLLECT_AFTER, 10, 10)
