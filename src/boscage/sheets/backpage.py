"""The back of a site's sheet: blanks to fill in on the spot with a gloved hand, cautions, a map to find the way."""

from __future__ import annotations

from collections.abc import Sequence

from boscage.model.results import Backdrop, ScoutResult, Site
from boscage.sheets.content import MapContent
from boscage.sheets.flow import Placed, draw_all
from boscage.sheets.frame import MapFrame
from boscage.sheets.furniture import scale_words
from boscage.sheets.mapdraw import draw_map
from boscage.sheets.page import Box, Page
from boscage.sheets.running import body_box, draw_foot, draw_plain_head
from boscage.sheets.sheet import HEAD_MM, columns_of
from boscage.sheets.style import BODY, BOLD, GREY, LABEL, SMALL, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, wrap

ROW_MM = 7.7
_TREES, _TESTS = 5, 3
_TABLE_HEAD_MM = 7.0
_LOCATOR_MM = (72.0, 62.0)
_LOCATOR_SCALE = 24_000.0
_BOX_MM = 4.2

CAUTIONS = (
    "Look up before you tie: dead tops, hung limbs, leaning trees, wires. A wire near the ring ends the set here.",
    "A tight rope or net stores force. Stand out of line with it. Let go only when nobody is in line.",
    "Animals in the net charge. Stay outside it, keep a way out, keep dogs away.",
    "Firearms: one named person, a known backstop, nobody beyond it. Call before and after.",
    "Disease: gloves and eye protection, cover cuts, no eating or smoking. Wash boots, rope and net before the next "
    "property.",
    "Whose rules decide: local law, then the land's own rules and the owner's word, then licensed practice. This sheet "
    "grants no permission.",
)
AGE_CLASSES = "Age class: A under 24 h, B 1 to 3 days, C 4 to 14 days, D over 14 days (common practice, no source)."


def _blanks_end(body: Box) -> tuple[float, float]:
    """Top of the tables, and the y below the last blank."""
    top = body.y + HEAD_MM
    tables = top + 1.0 + _LOCATOR_MM[1] + 5.5
    end = tables + 2 * _TABLE_HEAD_MM + (_TREES + _TESTS) * ROW_MM + 3.0 + 4.4 + 2 * ROW_MM + 3.0
    return tables, end


def _caution_box(body: Box) -> Box:
    height = max(sum(f.height_mm + 0.8 for f in part) for part in _cautions(body)) + 6.4
    return Box(body.x, body.bottom - height, body.width, height)


def back_room(body: Box) -> list[Box]:
    """Two columns between the blanks and the cautions, for what the front has no room for."""
    _, end = _blanks_end(body)
    bottom = _caution_box(body).y - 2.0
    whole = Box(body.x, body.y, body.width, bottom - body.y)
    return columns_of(whole, 2, top=end)


def draw_back(page: Page, result: ScoutResult, site: Site, overview: Backdrop, carried: Sequence[Placed]) -> None:
    """Draw the back; the room that is left holds what the front could not, or is for a sketch."""
    body = body_box(page.width_mm, page.height_mm)
    right = f"rank {site.rank}, {result.plan.ranch.name}"
    top = draw_plain_head(page, body, f"{site.site}: on the spot", right)
    width, height = _LOCATOR_MM
    locator = Box(body.right - width, top + 1.0, width, height)
    _draw_locator(page, result, site, overview, locator)
    _draw_visit(page, Box(body.x, top, body.width - width - 6.0, height + 5.0))
    tables, end = _blanks_end(body)
    _draw_lines(page, body, _draw_tables(page, Box(body.x, tables, body.width, 0.0)))
    if carried:
        draw_all(page, carried)
    else:
        room = back_room(body)[0]
        _draw_sketch(page, Box(body.x, end, body.width, room.height))
    _draw_cautions(page, body)
    draw_foot(page, result)


def _draw_sketch(page: Page, box: Box) -> None:
    page.area(box, AreaLook(outline=LineLook(colour=GREY, width_pt=0.5)))
    page.text(box.x + 2.0, box.y + 4.0, "Sketch: ring, trees, way in, drop. North up.", LABEL)


def _draw_locator(page: Page, result: ScoutResult, site: Site, overview: Backdrop, box: Box) -> None:
    """Parcels, tracks, water and sites round about; no relief."""
    frame = MapFrame.centred(
        site.place.x_m, site.place.y_m, scale=_LOCATOR_SCALE, width_mm=box.width, height_mm=box.height
    )
    content = MapContent(
        backdrop=overview, sites=result.sites, focus=site, units=result.plan.ranch.units,
        ring_radius_m=result.plan.net.radius_m, ground=False, sign=False,
    )  # fmt: skip
    draw_map(page.axes(box), frame, content)
    page.area(box, AreaLook(outline=LineLook(width_pt=0.9)))
    words = fit(f"Finding the way: {scale_words(frame.scale, content.units)}, grid north up", box.width, SMALL)
    page.lines(box.x, box.bottom + 0.8, words)


def _draw_visit(page: Page, box: Box) -> None:
    """Date, people, permission, wires, signal: one row each."""
    y = box.y + ROW_MM
    _field(page, box.x, y, "Date", box.width * 0.48)
    _field(page, box.x + box.width * 0.52, y, "Time (24 h)", box.width * 0.48)
    y += ROW_MM
    _field(page, box.x, y, "Observer", box.width)
    rows = (
        ("Permission checked", ("yes", "no"), "with"),
        ("Power lines looked for", ("yes", "no"), "seen"),
        ("Dead tops, hung limbs", ("none seen", "some"), ""),
        ("Phone signal", ("none", "weak", "good"), ""),
        ("Radio", ("none", "weak", "good"), ""),
    )
    for label, choices, tail in rows:
        y += ROW_MM
        _choice_row(page, Box(box.x, y, box.width, ROW_MM), label, choices, tail)
    y += ROW_MM
    _field(page, box.x, y, "Photo numbers", box.width)


def _field(page: Page, x: float, y: float, label: str, width: float) -> None:
    """A label and a line to write on; y is the line."""
    page.text(x, y - 1.2, label, BOLD)
    start = x + Fitted(lines=(label,), style=BOLD).width_mm + 1.8
    page.blank(start, y, x + width - start)


def _choice_row(page: Page, box: Box, label: str, choices: Sequence[str], tail: str) -> None:
    page.text(box.x, box.y - 1.2, label, BOLD)
    x = box.x + 39.0
    for choice in choices:
        x = _tick(page, x, box.y, choice)
    if tail:
        _field(page, x, box.y, tail, box.right - x)


def _tick(page: Page, x: float, y: float, words: str) -> float:
    """A box to tick with its word; the answer is the x behind it."""
    page.tick_box(x, y - _BOX_MM - 0.3, size_mm=_BOX_MM)
    page.text(x + _BOX_MM + 1.2, y - 1.2, words, BODY)
    return x + _BOX_MM + 1.2 + Fitted(lines=(words,), style=BODY).width_mm + 3.2


def _draw_tables(page: Page, box: Box) -> float:
    trees = (
        ("tree no.", 20.0), ("species", 52.0), ("dbh", 24.0), ("sound: y / n", 28.0), ("bearing (magnetic)", 36.0),
        ("distance", 0.0),
    )  # fmt: skip
    y = _grid(page, box, "Contact trees, from the middle of the ring", trees, _TREES) + 3.0
    half = (box.width - 6.0) / 2
    stakes = (("stake", 16.0), ("depth", 26.0), ("held: y / n", 24.0), ("ground", 0.0))
    sign = (("kind of sign", 46.0), ("age: A  B  C  D", 0.0))
    bottom = _grid(page, Box(box.x, y, half, 0.0), "Stakes tested", stakes, _TESTS)
    right = _grid(page, Box(box.x + half + 6.0, y, half, 0.0), "Fresh sign", sign, _TESTS)
    y = max(bottom, right) + 0.6
    return page.lines(box.x, y, fit(AGE_CLASSES, box.width, SMALL)) + 0.6


def _grid(page: Page, box: Box, title: str, columns: Sequence[tuple[str, float]], rows: int) -> float:
    """An empty ruled table; a width of 0 takes what is left. The answer is the y below it."""
    y = page.lines(box.x, box.y, Fitted(lines=(title,), style=TextStyle(size_pt=8.5, bold=True)))
    left = box.width - sum(w for _, w in columns)
    widths = [w or left for _, w in columns]
    head = box.y + _TABLE_HEAD_MM
    bottom = head + rows * ROW_MM
    x = box.x
    thin = LineLook(colour=GREY, width_pt=0.5)
    for (name, _), width in zip(columns, widths, strict=True):
        page.lines(x + 1.0, y, fit(name, width - 1.5, LABEL))
        page.line((x, x), (head, bottom), thin)
        x += width
    page.line((x, x), (head, bottom), thin)
    for row in range(rows + 1):
        page.line((box.x, box.right), (head + row * ROW_MM,) * 2, thin)
    return bottom


def _draw_lines(page: Page, body: Box, y: float) -> float:
    """Lines for anything else."""
    y += ROW_MM
    _field(page, body.x, y, "Declination used", 60.0)
    _field(page, body.x + 66.0, y, "Change to the plan, and why", body.width - 66.0)
    y += ROW_MM
    page.blank(body.x, y, body.width)
    return y + 3.0


def _cautions(body: Box) -> tuple[list[Fitted], list[Fitted]]:
    """The cautions wrapped for two columns."""
    width = (body.width - 12.0) / 2
    fitted = [Fitted(lines=tuple(wrap(t, width - 4.0, BODY)), style=BODY) for t in CAUTIONS]
    half = (len(fitted) + 1) // 2
    return fitted[:half], fitted[half:]


def _draw_cautions(page: Page, body: Box) -> None:
    """The cautions in two columns at the foot of the page."""
    box = _caution_box(body)
    width = (body.width - 12.0) / 2
    page.area(box, AreaLook(outline=LineLook(width_pt=0.9)))
    page.text(box.x + 3.0, box.y + 4.0, "Cautions", TextStyle(size_pt=8.5, bold=True))
    for k, part in enumerate(_cautions(body)):
        x, top = box.x + 3.0 + k * (width + 6.0), box.y + 5.2
        for caution in part:
            middle = top + BODY.line_mm * 0.48
            page.line((x + 0.2, x + 1.8), (middle, middle), LineLook(width_pt=1.2))
            top = page.lines(x + 3.2, top, caution) + 0.8
