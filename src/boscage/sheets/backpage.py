"""The back of a site's sheet: blanks to fill in on the spot with a gloved hand, cautions, a map to find the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from boscage.model.results import Backdrop, ScoutResult, Site
from boscage.sheets import groundtext
from boscage.sheets.content import MapContent
from boscage.sheets.flow import Placed, draw_all
from boscage.sheets.frame import MapFrame
from boscage.sheets.furniture import scale_words
from boscage.sheets.groundblock import MORE, GroundBlock, plan_ground_block
from boscage.sheets.mapdraw import draw_map
from boscage.sheets.page import Box, Page
from boscage.sheets.running import draw_foot, draw_plain_head
from boscage.sheets.sheet import HEAD_MM, columns_of
from boscage.sheets.style import BODY, BOLD, GREY, LABEL, SMALL, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, wrap
from boscage.values import Printer

ROW_MM = 7.2
_TREES, _TESTS = 5, 3
_TABLE_HEAD_MM = 7.0
_LOCATOR_MM = (72.0, 58.0)
_LOCATOR_SCALE = 24_000.0
_BOX_MM = 4.2
_STAKES_SHARE = 0.56
_LEAST_ROOM_MM = 14.0
# From the back to a site's further page: the way in stands between.
_FURTHER = 2

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


@dataclass(frozen=True, kw_only=True)
class Back:
    """The back of a site's sheet, laid out.

    Attributes:
        trees_y, stakes_y: Top of the tree table and of the tables below the ground.
        ground: What is said of the ground, between them.
        room: Two columns for what the front has no room for; empty where there is next to none.
        spare: The same room as one box.
    """

    site: Site
    body: Box
    trees_y: float
    stakes_y: float
    ground: GroundBlock
    room: tuple[Box, ...]
    spare: Box


def plan_back(result: ScoutResult, site: Site, body: Box) -> Back:
    """Lay out the back: the ground in the largest type that fits between the tables and the cautions."""
    trees_y = body.y + HEAD_MM + 1.0 + _LOCATOR_MM[1] + 4.8
    ground_y = trees_y + _TABLE_HEAD_MM + _TREES * ROW_MM + 2.4
    below = _TABLE_HEAD_MM + _TESTS * ROW_MM + 4.4 + _free_lines(site) * ROW_MM + 3.0
    bottom = _caution_box(body).y - 2.0
    place = Box(body.x, ground_y, body.width, bottom - ground_y - below)
    ground = plan_ground_block(site.ground, Printer(result.plan.ranch.units), place)
    end = ground_y + ground.height_mm + below
    spare = Box(body.x, end, body.width, bottom - end)
    room = columns_of(Box(body.x, body.y, body.width, bottom - body.y), 2, top=end)
    return Back(
        site=site, body=body, trees_y=trees_y, ground=ground, stakes_y=ground_y + ground.height_mm,
        room=tuple(room) if spare.height >= _LEAST_ROOM_MM else (), spare=spare,
    )  # fmt: skip


def _free_lines(site: Site) -> int:
    """Lines for anything else: the second gives way to what is said of the ground."""
    return 2 if site.ground is None else 1


def _caution_box(body: Box) -> Box:
    height = max(sum(f.height_mm + 0.8 for f in part) for part in _cautions(body)) + 6.4
    return Box(body.x, body.bottom - height, body.width, height)


def draw_back(page: Page, result: ScoutResult, back: Back, overview: Backdrop, carried: Sequence[Placed]) -> None:
    """Draw the back; the room that is left holds what the front could not, or is for a sketch."""
    site, body = back.site, back.body
    right = f"rank {site.rank}, {result.plan.ranch.name}"
    top = draw_plain_head(page, body, f"{site.site}: on the spot", right)
    width, height = _LOCATOR_MM
    locator = Box(body.right - width, top + 1.0, width, height)
    _draw_locator(page, result, site, overview, locator)
    _draw_visit(page, Box(body.x, top, body.width - width - 6.0, height + 5.0))
    _draw_trees(page, Box(body.x, back.trees_y, body.width, 0.0))
    draw_all(page, back.ground.placed)
    if back.ground.rest:
        page.text(body.right, back.stakes_y - 1.6, f"more on the ground on page {page.number + _FURTHER}", MORE)
    printer = Printer(result.plan.ranch.units)
    expected = groundtext.expected_stake(site, printer)
    below = _draw_tests(page, Box(body.x, back.stakes_y, body.width, 0.0), expected)
    _draw_lines(page, body, below, _free_lines(site))
    if carried:
        draw_all(page, carried)
    elif back.room:
        _draw_sketch(page, back.spare)
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
    draw_map(page.map_axes(box, frame.bounds, overview.grid.crs), frame, content)
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


def _draw_trees(page: Page, box: Box) -> None:
    trees = (
        ("tree no.", 20.0), ("species", 52.0), ("dbh", 24.0), ("sound: y / n", 28.0), ("bearing (magnetic)", 36.0),
        ("distance", 0.0),
    )  # fmt: skip
    _grid(page, box, "Contact trees, from the middle of the ring", trees, _TREES)


def _draw_tests(page: Page, box: Box, expected: str) -> float:
    """Stakes tested, with the depth expected beside the one found, and fresh sign; the answer is the y below them."""
    stakes = (("stake", 13.0), ("expected", 19.0), ("reached", 25.0), ("held: y / n", 23.0), ("ground", 0.0))
    sign = (("kind of sign", 38.0), ("age: A  B  C  D", 0.0))
    wide = box.width * _STAKES_SHARE
    title = "Stakes tested (expected: how deep the ground lets one go)"
    bottom = _grid(page, Box(box.x, box.y, wide, 0.0), title, stakes, _TESTS)
    x = box.x + sum(w for _, w in stakes[:1]) + 1.5
    for row in range(_TESTS):
        middle = box.y + _TABLE_HEAD_MM + (row + 0.62) * ROW_MM
        page.text(x, middle, expected, BODY)
    right = _grid(page, Box(box.x + wide + 6.0, box.y, box.width - wide - 6.0, 0.0), "Fresh sign", sign, _TESTS)
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


def _draw_lines(page: Page, body: Box, y: float, count: int) -> None:
    """Lines for anything else."""
    y += ROW_MM
    _field(page, body.x, y, "Declination used", 60.0)
    _field(page, body.x + 66.0, y, "Change to the plan, and why", body.width - 66.0)
    for line in range(1, count):
        page.blank(body.x, y + line * ROW_MM, body.width)


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
