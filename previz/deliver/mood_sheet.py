"""Mood frames for a director: pictures and titles, no numbers; as a sheet, and as one page."""

from __future__ import annotations

import base64
import html
import io
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np
from PIL import Image

from previz.deliver.atomic import write_text
from previz.deliver.layout import A4, Block, Setting, paragraph, write_sheet_files
from previz.deliver.plates import Plate, plate_rows

JPEG_QUALITY = 90
"""Of the pictures inside the page."""

PAGE = 2**0.5
"""Width over height of a lying page of the A series.  Source: ISO 216. [1]"""

GAP = 1.6
"""Between frames. [units]"""

ACROSS = 4
"""Most frames side by side."""


@dataclass(frozen=True, eq=False)
class MoodFrame:
    """One frame: its title, and its still, graded and cropped, uint8 of shape (row, column, 3), sRGB."""

    title: str
    still: np.ndarray


def mood_blocks(frames: Sequence[MoodFrame], setting: Setting, *, title: str, subtitle: str = "",
                across: int | None = None, care: str = "") -> list[Block]:
    """Return a contact sheet in blocks.

    Parameters
    ----------
    frames : sequence of MoodFrame
        Of one aspect.
    setting : Setting
    title, subtitle : str
        Over the frames.
    across : int, optional
        Frames side by side; by itself the fewest with which all lie on one page.
    care : str
        What of the set calls for care, in words; '' for nothing.

    Raises
    ------
    ValueError
        There are no frames.
    """
    if not frames:
        raise ValueError("a mood sheet needs at least one frame")
    unit = setting.unit
    above = (5.6 if subtitle else 4.0) * unit

    def head(paper, left, top, width):
        paper.text((left, top + 2.2 * unit), title, round(2.4 * unit), weight="strong", room=width)
        if subtitle:
            paper.text((left, top + 4.3 * unit), subtitle, round(1.2 * unit), room=width)

    plates = [Plate(([frame.still],), below=frame.title) for frame in frames]
    foot = [paragraph(setting, care, size=0.9)] if care else []
    for count in [across] if across else range(1, min(ACROSS, len(frames)) + 1):
        blocks = [Block(above, head), *plate_rows(setting, plates, count, between=GAP), *foot]
        if sum(block.height for block in blocks) + 2 * setting.margin <= setting.width / PAGE:
            break
    return blocks


def _packed(still: np.ndarray) -> str:
    """Return a picture as a data address."""
    packed = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(still)).save(packed, format="JPEG", quality=JPEG_QUALITY,
                                                     subsampling=0, optimize=True)
    return _address("image/jpeg", packed.getvalue())


def _face() -> str:
    """Return the type of the program as a data address."""
    return _address("font/ttf", files("previz.deliver").joinpath("fonts", "Lato-Regular.ttf").read_bytes())


def _address(kind: str, content: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(content).decode('ascii')}"


_STYLE = """
@font-face { font-family: mood; src: url(FACE) format("truetype"); }
:root { color-scheme: dark; }
* { box-sizing: border-box; }
body { margin: 0; background: #161617; color: #dededc; font: 17px/1.4 mood, sans-serif; }
header { padding: 5vh 4vw 2.5vh; }
h1 { font-size: 34px; font-weight: normal; margin: 0; letter-spacing: .01em; }
header p { margin: .4em 0 0; color: #9a9a98; }
main { display: grid; gap: 34px 28px; padding: 1vh 4vw 7vh;
  grid-template-columns: repeat(auto-fit, minmax(min(100%, 520px), 1fr)); }
figure { margin: 0; }
button { display: block; width: 100%; padding: 0; border: 0; background: none; cursor: zoom-in; }
button:focus-visible { outline: 2px solid #dededc; outline-offset: 4px; }
img { display: block; width: 100%; height: auto; }
figcaption { padding-top: 10px; }
footer { padding: 0 4vw 4vh; color: #9a9a98; font-size: 14px; }
dialog { border: 0; padding: 0; margin: 0; width: 100vw; height: 100vh; max-width: none;
  max-height: none; background: #0c0c0d; color: #dededc; }
dialog[open] { display: flex; flex-direction: column; align-items: center;
  justify-content: center; gap: 14px; }
dialog img { width: auto; height: auto; max-width: 96vw; max-height: 88vh; }
dialog p { margin: 0; }
@media print { body { background: #fff; color: #1e1e20; } main { display: block; }
  figure { break-inside: avoid; margin-bottom: 8mm; } }
"""

_SCRIPT = """
const frames = [...document.querySelectorAll("figure")];
const large = document.querySelector("dialog");
let shown = 0;
function show(number) {
  shown = (number + frames.length) % frames.length;
  large.querySelector("img").src = frames[shown].querySelector("img").src;
  large.querySelector("img").alt = frames[shown].querySelector("img").alt;
  large.querySelector("p").textContent = frames[shown].querySelector("figcaption").textContent;
  if (!large.open) large.showModal();
}
frames.forEach((frame, number) =>
  frame.querySelector("button").addEventListener("click", () => show(number)));
large.addEventListener("click", () => large.close());
large.addEventListener("keydown", (key) => {
  if (key.key === "ArrowRight" || key.key === " ") { key.preventDefault(); show(shown + 1); }
  if (key.key === "ArrowLeft") show(shown - 1);
});
"""


def mood_page(frames: Sequence[MoodFrame], *, title: str, subtitle: str = "", software: str = "",
              care: str = "") -> str:
    """Return frames as a page in HTML that holds everything it shows, and asks nothing of any network.

    `software` is what made it, in the page's head; `care` as in `mood_blocks`.
    """
    head = html.escape(title)
    figures = "\n".join(
        f'<figure><button type="button" aria-label="Show {name} large">'
        f'<img src="{_packed(still)}" width="{still.shape[1]}" height="{still.shape[0]}" '
        f'alt="{name}"></button><figcaption>{name}</figcaption></figure>'
        for name, still in ((html.escape(frame.title), frame.still) for frame in frames))
    under = f"<p>{html.escape(subtitle)}</p>" if subtitle else ""
    foot = f"<footer>{html.escape(care)}</footer>\n" if care else ""
    rules = ("default-src 'none'; img-src data:; font-src data:; style-src 'unsafe-inline'; "
             "script-src 'unsafe-inline'")
    return (
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        f"<meta http-equiv=\"Content-Security-Policy\" content=\"{rules}\">\n"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
        f"<meta name=\"generator\" content=\"{html.escape(software)}\">\n<title>{head}</title>\n"
        f"<style>{_STYLE.replace('FACE', _face())}</style>\n</head>\n<body>\n"
        f"<header><h1>{head}</h1>{under}</header>\n<main>\n{figures}\n</main>\n{foot}"
        "<dialog aria-label=\"One frame, large\"><img alt=\"\"><p></p></dialog>\n"
        f"<script>{_SCRIPT}</script>\n</body>\n</html>\n")


def write_mood(stem: Path, frames: Sequence[MoodFrame], words: dict[str, str], *, title: str,
               subtitle: str = "", across: int | None = None, care: str = "",
               width: int = 2400) -> list[Path]:
    """Write mood frames as a PNG of a width [px], a PDF and one self-contained page; return the files.

    `words` is what the files say of themselves; the rest is of `mood_blocks`.
    """
    setting, page = Setting(width), Path(stem).with_suffix(".html")
    blocks = mood_blocks(frames, setting, title=title, subtitle=subtitle, across=across, care=care)
    written = write_sheet_files(stem, blocks, setting, words, A4)
    write_text(page, mood_page(frames, title=title, subtitle=subtitle,
                               software=words.get("Software", ""), care=care))
    return [*written, page]
