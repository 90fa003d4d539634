"""Make the pictures of README.md and docs/first-cluster.md: `python docs/make_pictures.py`.

Everything shown is what the program makes: the demonstration's papers and overlays, the strip as
it stands on the certificate, the marks of the guide's family, and what the commands print.
"""

import contextlib
import io
import os
import re
import shlex
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import pypdfium2
from make_page_pictures import take as take_page
from PIL import Image, ImageOps
from rich.console import Console
from rich.terminal_theme import TerminalTheme
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.main import run

DOCS = Path(__file__).parent
PICTURES = DOCS / "pictures"
PHOTO = "as-found/02-up.jpg"
COLUMNS = 100

PAPER = (250, 247, 240)
INK = (31, 29, 26)
THEME = TerminalTheme(
    PAPER,
    INK,
    [INK, (176, 42, 32), (48, 110, 60), (146, 98, 0), (28, 84, 140), (116, 56, 112), (0, 104, 112),
     (120, 114, 104)],
)  # fmt: skip
"""Paper and ink; colours dark enough to be read on it."""

SHEET = """\
<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{ font-family: ui-monospace, "DejaVu Sans Mono", Menlo, Consolas, monospace;
  font-size: {char_height}px; line-height: {line_height}px; }}
{styles}
</style>
<defs>
<clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}" />
</clipPath>
{lines}
</defs>
<rect width="100%" height="100%" fill="#faf7f0" />
<g transform="translate(9, 14)" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""
"""A sheet of paper for what a command prints; fonts are the reader's own, nothing is fetched."""


def main() -> None:
    """Make every picture."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place, _inside(Path(place)):
        _quietly("demo", "--out", "demo")
        _overlay()
        _certificate()
        _marks()
        os.chdir("demo")
        _printed("read.svg", f"read --family family {PHOTO}", f"look --family family "
                 f"--at speed=40 --at engine=1.6 {PHOTO}")  # fmt: skip
        _printed("needles.svg", "needles --family family as-found.csv")
    take_page()
    for picture in sorted(PICTURES.iterdir()):
        print(f"{picture.name}  {picture.stat().st_size / 1024:.0f} kB")


def _overlay() -> None:
    """The photo with the readings drawn on it, cut to the face."""
    drawn = Image.open(
        Path("demo/overlays") / PHOTO.replace("/", "-").replace(".jpg", ".overlay.jpg")
    )
    cut = drawn.crop(_middle(drawn, 0.96, 0.62))
    _saved(cut, "overlay.jpg", 1200)


def _middle(picture: Image.Image, across: float, down: float) -> tuple[int, int, int, int]:
    """The box of that share of a picture about its middle."""
    width, height = picture.width * across, picture.height * down
    left, top = (picture.width - width) / 2, (picture.height - height) / 2
    return round(left), round(top), round(left + width), round(top + height)


def _certificate() -> None:
    """The certificate's first page, and the speedometer's strip and table from its second."""
    first, second = (_page(number, 200 / 72) for number in (0, 1))
    framed = ImageOps.expand(first, border=2, fill=(200, 196, 188))
    _saved(framed, "certificate.png", 900, colours=256)
    left, right = 0.075 * second.width, 0.935 * second.width
    strip = second.crop((round(left), round(0.097 * second.height),
                         round(right), round(0.470 * second.height)))  # fmt: skip
    _saved(ImageOps.expand(strip, border=20, fill="white"), "strip.png", 1200, colours=256)


def _page(number: int, scale: float) -> Image.Image:
    page = pypdfium2.PdfDocument("demo/papers/EX-2026-0412.pdf")[number]
    return page.render(scale=scale).to_pil().convert("RGB")


def _marks() -> None:
    """The marks of the family that the guide types in."""
    guide = (DOCS / "first-cluster.md").read_text(encoding="utf-8")
    typed = re.search(r"^```json my-cluster/family.json\n(.*?)^```$", guide, re.M | re.S)
    if typed is None:
        raise ValueError("docs/first-cluster.md types no my-cluster/family.json")
    folder = Path("my-cluster")
    folder.mkdir()
    (folder / "family.json").write_text(typed.group(1), encoding="utf-8")
    (folder / "face.png").write_bytes(Path("demo/family/face.png").read_bytes())
    _quietly("family", "show", str(folder), "--picture", "marks.png")
    _saved(Image.open("marks.png"), "marks.png", 1600, colours=128)


def _saved(picture: Image.Image, name: str, width_px: int, colours: int | None = None) -> None:
    small = picture.convert("RGB")
    if small.width > width_px:
        height_px = round(small.height * width_px / small.width)
        small = small.resize((width_px, height_px), Image.Resampling.LANCZOS)
    if colours is not None:
        small = small.quantize(colours, dither=Image.Dither.NONE)
    small.save(PICTURES / name, optimize=True, quality=82)


def _printed(name: str, *commands: str) -> None:
    """What commands print, each under the line that was typed, as one drawing."""
    sheet = Console(
        record=True, width=COLUMNS, file=io.StringIO(), highlight=False, force_terminal=True,
        color_system="standard",
    )  # fmt: skip
    before, console.out = console.out, sheet
    try:
        for number, command in enumerate(commands):
            sheet.print(Text(f"{'' if number == 0 else chr(10)}$ needlewright {command}", "cyan"))
            _run(shlex.split(command))
    finally:
        console.out = before
    svg = sheet.export_svg(theme=THEME, code_format=SHEET, unique_id=Path(name).stem)
    (PICTURES / name).write_text(svg, encoding="utf-8")


def _quietly(*words: str) -> None:
    with contextlib.redirect_stdout(io.StringIO()):
        _run(words)


def _run(words: Sequence[str]) -> None:
    """Run a command; a picture of a failure is no picture."""
    try:
        run(list(words))
    except SystemExit as left:
        if left.code:
            raise RuntimeError(f"needlewright {shlex.join(words)} left with {left.code}") from left


@contextlib.contextmanager
def _inside(folder: Path) -> Iterator[None]:
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


if __name__ == "__main__":
    main()
