"""What one running page holds."""

from dataclasses import dataclass

from jinja2 import Environment

from needlewright.records.opening import Shop
from needlewright.web.background import ReadingQueue
from needlewright.web.bench_desk import BenchDesk
from needlewright.web.burn_in_desk import BurnInDesk
from needlewright.web.drafts_desk import DraftDesk
from needlewright.web.drive_desk import DriveDesk
from needlewright.web.findings_desk import AnalysisDesk
from needlewright.web.live_desk import LiveDesk
from needlewright.web.session import Sessions
from needlewright.web.session_codes import CodeCheck
from needlewright.web.sweeps_queue import SweepQueue


@dataclass(frozen=True, slots=True)
class Listening:
    """Where the page is reached, and under which rules."""

    port: int = 0
    """0: not told apart, in tests."""
    tls: bool = False
    code: str | None = None
    """The pass code; where there is one, the page is reached from the shop's network."""
    names: tuple[str, ...] = ()
    """Names of this machine in the shop's network, as a browser may ask for them."""
    addresses: tuple[str, ...] = ()
    """Addresses at which another device finds this machine."""
    fingerprint: str = ""
    """SHA-256 of the certificate, to be compared by eye."""

    @property
    def lan(self) -> bool:
        """Whether other devices may come."""
        return self.code is not None

    @property
    def scheme(self) -> str:
        """As an address begins."""
        return "https" if self.tls else "http"

    @property
    def cookie(self) -> str:
        """Name of the session's cookie; cookies are not told apart by port, so this is."""
        name = f"needlewright-{self.port}"
        return f"__Host-{name}" if self.tls else name

    def urls(self) -> tuple[str, ...]:
        """Where another device goes, the likeliest first."""
        hosts = (f"[{one}]" if ":" in one else one for one in self.addresses)
        return tuple(f"{self.scheme}://{host}:{self.port}/" for host in hosts)


@dataclass(frozen=True, slots=True)
class House:
    """The shop and everything the page keeps beside it."""

    shop: Shop
    sessions: Sessions
    templates: Environment
    listening: Listening
    codes: CodeCheck | None
    """None: no code is asked for."""
    reading: ReadingQueue
    """Reads photos while people go on; `wake` it when some were added."""
    live: LiveDesk
    """The live pictures that are open."""
    bench: BenchDesk
    """Runs that are on at the bench."""
    burn_ins: BurnInDesk
    """Burn-ins that are on at the bench."""
    drives: DriveDesk
    """Movements that a bench drives while their needles are pressed."""
    sweeps: SweepQueue
    """Follows sweep videos while people go on; `wake` it when one was added."""
    drafts: DraftDesk
    """Families that are being drafted."""
    analyses: AnalysisDesk
    """Files that are being looked at for findings."""
