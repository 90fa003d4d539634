"""What one running page holds."""

from dataclasses import dataclass

from jinja2 import Environment

from needlewright.records.opening import Shop
from needlewright.web.session import Sessions


@dataclass(frozen=True, slots=True)
class Listening:
    """Where the page is reached, and under which rules."""

    lan: bool = False
    """Reached from the shop's network; then a pass code is asked for."""
    tls: bool = False
    port: int = 0
    names: tuple[str, ...] = ()
    """Names of this machine in the shop's network, as a browser may ask for them."""
    addresses: tuple[str, ...] = ()
    """Addresses another device finds this machine at."""

    @property
    def scheme(self) -> str:
        """As an address begins."""
        return "https" if self.tls else "http"


@dataclass(frozen=True, slots=True)
class House:
    """The shop and everything the page keeps beside it."""

    shop: Shop
    sessions: Sessions
    templates: Environment
    listening: Listening
