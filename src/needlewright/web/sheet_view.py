"""The job sheet gathered for the page: parts, runs, needles, papers, and the one next thing."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from needlewright.composing.after_work import AfterWork, after_work_or_trouble
from needlewright.composing.gauge_names import gauge_names
from needlewright.composing.saved_words import is_of_findings, saved_words
from needlewright.composing.undoing import history
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.records.facts import local_day
from needlewright.records.opening import Shop
from needlewright.records.overdue import is_overdue, overdue_at_run
from needlewright.records.returning import odometer_state
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import instruments, settings
from needlewright.records.stages import what_is_missing
from needlewright.records.stock import has_stock
from needlewright.records.sweeps import sweeps_of
from needlewright.records.views import (
    EditView,
    InstrumentView,
    JobSheet,
    OdometerState,
    PaperView,
    RunLine,
    Settings,
    StageState,
)
from needlewright.records.views.sweeps import SweepView
from needlewright.records.words import STAGES, Stage
from needlewright.web.bench_desk import BenchDesk, Stand
from needlewright.web.burn_in_desk import BurnInDesk
from needlewright.web.press_view import PressOnSheet, press_on_sheet
from needlewright.web.refusals import Wrong
from needlewright.web.sheet_burn_in import BurnInOnSheet, burn_in_on_sheet
from needlewright.web.sheet_findings import FoundOnSheet, found_on_sheet
from needlewright.web.sheet_measured import family_version
from needlewright.web.sheet_needles import NeedleView, needle_views
from needlewright.web.sheet_next import (
    NextThing,
    is_finished_beside,
    next_thing,
    part_in_hand,
    result_line,
)
from needlewright.web.sheet_plan import PlanOnSheet, plan_on_sheet
from needlewright.web.sheet_rebuild import RebuildOnSheet, rebuild_on_sheet
from needlewright.web.sheet_run_view import RunView, run_view
from needlewright.web.texts import Texts

HISTORY: int = 30
"""Lines of history on the sheet."""


@dataclass(frozen=True, slots=True)
class WrongAt:
    """What went wrong in one form of the sheet, and what was typed there."""

    form: str
    wrong: Wrong
    typed: Mapping[str, str] = field(default_factory=dict)

    def at(self, form: str) -> Wrong | None:
        """What is wrong with a form, or None."""
        return self.wrong if form == self.form else None

    def kept(self, form: str, name: str, stored: Any) -> Any:
        """What a field shows: what was typed where it was not saved, else what is stored."""
        is_here = bool(self.form) and self.form.startswith(form)  # a form may have several groups
        return self.typed.get(name, stored) if is_here else stored


NOTHING_WRONG = WrongAt("", Wrong(""))


@dataclass(frozen=True, slots=True)
class PartView:
    """One part of the work as the sheet folds it."""

    stage: Stage
    state: StageState
    in_hand: bool
    result: str
    missing: tuple[str, ...]
    by: str | None
    at: Any


class SheetView:
    """Everything the sheet shows; what is not asked for is not worked out.

    Parameters
    ----------
    shop
        The shop.
    t
        The page's texts.
    tag
        Of the job.
    bench
        Where runs may be on; None: not asked.
    burn_ins
        Where burn-ins may be on; None: only asked whether any program is at one.
    """

    def __init__(
        self,
        shop: Shop,
        t: Texts,
        tag: str,
        bench: BenchDesk | None = None,
        burn_ins: BurnInDesk | None = None,
    ) -> None:
        self.shop = shop
        self._bench, self._burn_ins = bench, burn_ins
        self.t = t
        self.job: JobSheet = job_sheet(shop, tag)

    @cached_property
    def settings(self) -> Settings:
        """Of the shop."""
        return settings(self.shop)

    @cached_property
    def family(self) -> Family:
        """The cluster design, in the version the job goes by."""
        return family_version(self.shop, self.job.family_version_id)

    @cached_property
    def all_instruments(self) -> tuple[InstrumentView, ...]:
        """Those of the bench that are in use, and those of the job."""
        used = {one.number for one in self.job.instruments}
        return tuple(i for i in instruments(self.shop) if not i.retired or i.number in used)

    def is_overdue(self, instrument: InstrumentView) -> bool:
        """Whether an instrument's own calibration is overdue today."""
        return is_overdue(instrument.due, local_day(self.shop.now()))

    @cached_property
    def runs(self) -> Mapping[str, RunView]:
        """The run that counts, by side."""
        lines = {line.side: line for line in self.job.runs if line.set_aside_at is None}
        sheets = {
            side: run_sheet(self.shop, lines[side].id)
            for side in ("found", "left")
            if side in lines
        }
        views = {}
        if "other" in lines:
            sheet = run_sheet(self.shop, lines["other"].id)
            speed, typed = self.job.max_speed, lines["other"].typed
            views["other"] = run_view(
                self.shop, self.t, "found", sheet, max_speed=speed, typed=typed
            )
        if "found" in sheets:
            views["found"] = run_view(
                self.shop,
                self.t,
                "found",
                sheets["found"],
                max_speed=self.job.max_speed,
                typed=lines["found"].typed,
                overdue=overdue_at_run(self.job, sheets["found"]),
            )
        if "left" in sheets:
            found = sheets.get("found")
            same = found is not None and (
                found.family_version_id == sheets["left"].family_version_id
            )
            views["left"] = run_view(
                self.shop,
                self.t,
                "left",
                sheets["left"],
                found if same else None,
                max_speed=self.job.max_speed,
                typed=lines["left"].typed,
                overdue=overdue_at_run(self.job, sheets["left"]),
            )
        return views

    def run(self, side: str) -> RunView | None:
        """The run of a side that counts, or None."""
        return self.runs.get(side)

    def at_bench(self, side: str) -> Stand | None:
        """Where the run of a side stands at the bench; None: nothing of it is left to do there."""
        run = self.run(side)
        if run is None or self._bench is None:
            return None
        return self._bench.stand(self.shop, run.sheet.id)

    def set_aside(self, side: str) -> tuple[RunLine, ...]:
        """Runs of a side that count no more."""
        return tuple(r for r in self.job.runs if r.side == side and r.set_aside_at is not None)

    @cached_property
    def sweeps(self) -> tuple[SweepView, ...]:
        """The sweep videos."""
        return sweeps_of(self.shop, self.job.tag)

    @cached_property
    def found(self) -> FoundOnSheet:
        """The findings."""
        run, stand = self.run("found"), self.at_bench("found")
        settled = (run is None or not run.unread) and (stand is None or not stand.is_on)
        return found_on_sheet(self.shop, self.job, self.family, settled=settled)

    @cached_property
    def _after_work(self) -> tuple[AfterWork | None, str]:
        return after_work_or_trouble(self.job, gauge_names(self.family))

    @property
    def after_work(self) -> AfterWork | None:
        """Lamps and currents as left beside as found; None: no run as left looked at any."""
        return self._after_work[0]

    @property
    def after_work_trouble(self) -> str:
        """Why they cannot be compared; else empty."""
        return self._after_work[1]

    @cached_property
    def plan(self) -> PlanOnSheet:
        """The plan, as it is stored."""
        return plan_on_sheet(self.shop, self.job, self.found)

    @property
    def has_stock(self) -> bool:
        """Whether there is a stock that parts of the job could come from."""
        return has_stock(self.shop)

    @cached_property
    def rebuild(self) -> RebuildOnSheet:
        """The work of the plan, as far as it is ticked."""
        return rebuild_on_sheet(self.shop, self.job, self.family)

    @cached_property
    def press(self) -> PressOnSheet:
        """Where needles are pressed onto new movements."""
        return press_on_sheet(self.shop, self.job)

    @cached_property
    def burn_in(self) -> BurnInOnSheet:
        """The burn-in."""
        return burn_in_on_sheet(self.shop, self.job.tag, self.t, self._burn_ins)

    @cached_property
    def needles(self) -> tuple[NeedleView, ...]:
        """What each needle needs, by the run as found."""
        run = self.run("found")
        if run is None or run.wrong or not run.dials:
            return ()
        return needle_views(self.shop, self.family, run, self.job, self.plan.replaced)

    @cached_property
    def missing(self) -> Mapping[Stage, tuple[str, ...]]:
        """Why each part cannot be finished yet."""
        tag = self.job.tag
        return {
            stage: what_is_missing(self.shop, tag, stage)
            for stage in STAGES
            if self.job.stage_of(stage).state != "finished"
        }

    @cached_property
    def odometer(self) -> OdometerState | None:
        """Whether the mileage's outcome is lawful; None while one of the two is not recorded."""
        job = self.job
        if job.odometer_none is None and (job.odometer_in is None or job.odometer_out is None):
            return None
        try:
            return odometer_state(self.shop, job.tag)
        except NeedlewrightError as error:
            return OdometerState("refused", False, str(error))

    @property
    def wants_notice(self) -> bool:
        """Whether the odometer's notice is still to be printed."""
        state = self.odometer
        needed = state is not None and state.outcome in ("zero_with_notice", "local_law")
        return needed and not self.notices

    @property
    def notices(self) -> tuple[PaperView, ...]:
        """Notices of the odometer."""
        return tuple(one for one in self.job.papers if one.kind == "odometer_notice")

    @cached_property
    def _edits(self) -> tuple[EditView, ...]:
        """What was saved, as the journal keeps it."""
        return history(self.shop, self.job.tag, HISTORY)

    @cached_property
    def history(self) -> tuple[EditView, ...]:
        """What was saved, newest first, in words for people."""
        knowledge, names = load_knowledge(None), gauge_names(self.family)
        return tuple(
            replace(edit, what=saved_words(edit.what, knowledge, names)) for edit in self._edits
        )

    @property
    def _last(self) -> int | None:
        """Which of them undo would take back; None: none."""
        for place, edit in enumerate(self._edits):
            if not edit.undone and not edit.goes_on and not _is_undo(edit):
                return place if edit.undoable else None
        return None

    @property
    def undoable(self) -> EditView | None:
        """What undo would take back, in words for people; None: nothing."""
        return None if self._last is None else self.history[self._last]

    @property
    def goes_on(self) -> EditView | None:
        """What is on at the bench, which undo passes over, in words for people; None: nothing."""
        return next((edit for edit in self.history[: self._last] if edit.goes_on), None)

    @property
    def undoes_findings(self) -> bool:
        """Whether that is an answer, a decision or an analysis of the findings."""
        return self._last is not None and is_of_findings(self._edits[self._last].what)

    @cached_property
    def parts(self) -> tuple[PartView, ...]:
        """The parts of the work, in its order."""
        hand = part_in_hand(self.job)
        return tuple(
            PartView(
                stage=stage,
                state=self.job.stage_of(stage).state,
                in_hand=stage == hand,
                result=result_line(self, stage),
                missing=self.missing.get(stage, ()),
                by=self.job.stage_of(stage).finished_by,
                at=self.job.stage_of(stage).finished_at,
            )
            for stage in STAGES
        )

    def part(self, stage: Stage) -> PartView:
        """One of them."""
        return next(part for part in self.parts if part.stage == stage)

    def finishes_beside(self, stage: Stage) -> bool:
        """Whether the part in hand can be finished although something else comes first."""
        return is_finished_beside(self, stage)

    @cached_property
    def next(self) -> NextThing:
        """The one next thing to do."""
        return next_thing(self)


def _is_undo(edit: EditView) -> bool:
    return edit.what.startswith("undo: ")
