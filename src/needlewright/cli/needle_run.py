"""`needlewright needle-set run`: a job's run of its new movements, kept and read."""

from needlewright.cli.jobs_runs import (
    AnyOrder,
    Commands,
    Photos,
    Typed,
    show,
    take_in,
)
from needlewright.cli.shop_options import AsJson, By, ShopFolder, Tag, shop_at
from needlewright.composing.job_press import MOVEMENTS


def run(
    tag: Tag,
    photos: Photos = None,
    *,
    commands: Commands = None,
    typed: Typed = None,
    any_order: AnyOrder = False,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Keep and read a run of a job's new movements, by which its needles are pressed on."""
    with shop_at(shop) as opened:
        run_id = take_in(
            opened, tag, MOVEMENTS, photos, commands, typed=typed, any_order=any_order, by=by
        )
        show(opened, tag, run_id, as_json)
