"""The cold of a bench for tests: a freezer, a room, a cluster whose time constant is well known."""

from needlewright.bench.soak import Conditions, TimeConstant
from needlewright.bench.warming import Known

BAG = Conditions(
    way="freezer-bag",
    room=Known(21.0, 0.5),
    cold=Known(-25.0, 0.7),
    humidity=0.5,
    time_constant=TimeConstant(Known(900.0, 90.0), "stated"),
    place_u_degc=1.0,
    within_degc=3.0,
)
