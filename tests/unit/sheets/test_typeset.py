"""Text fitted into widths; text poured into boxes."""

import pytest

from boscage.sheets.flow import Block, gap, heading, paragraph, pour, table
from boscage.sheets.flow import Column as TableColumn
from boscage.sheets.page import Box
from boscage.sheets.style import BODY, TextStyle
from boscage.sheets.typeset import ELLIPSIS, fit, printable, text_width_mm, wrap

WORDS = "The group comes up the draw under cover, roots along the bench and beds above the creek. " * 4


@pytest.mark.parametrize("width", [12.0, 33.0, 90.0])
def test_wrapped_lines_fit_and_lose_nothing(width):
    lines = wrap(WORDS, width, BODY)
    assert all(text_width_mm(line, BODY) <= width + 1e-9 for line in lines)
    assert " ".join(lines).split() == WORDS.split()


def test_a_word_longer_than_the_line_is_broken():
    lines = wrap("x" * 100, 20.0, BODY)
    assert len(lines) > 3
    assert "".join(lines) == "x" * 100


def test_fit_shrinks_first_and_cuts_last():
    style = TextStyle(size_pt=12.0)
    assert fit("short", 60.0, style).style.size_pt == 12.0
    shrunk = fit("a name that is rather long", 40.0, style)
    assert 6.0 <= shrunk.style.size_pt < 12.0
    assert not shrunk.cut
    cut = fit(WORDS, 40.0, style)
    assert cut.style.size_pt == 6.0
    assert cut.cut
    assert cut.lines[0].endswith(ELLIPSIS)
    assert cut.width_mm <= 40.0


def test_width_grows_with_the_size():
    """Advance widths scale with the size (OpenType specification: units per em)."""
    assert text_width_mm("Boscage", TextStyle(size_pt=16.0)) == pytest.approx(2 * text_width_mm("Boscage", BODY))


def test_width_of_figures_is_that_of_the_font():
    """DejaVu Sans 2.35: every figure is 1303 of 2048 units wide (font file, table hmtx)."""
    one = text_width_mm("0" * 101, BODY) - text_width_mm("0", BODY)
    assert one / 100 == pytest.approx(1303 / 2048 * 8 * 25.4 / 72, rel=0.006)


def test_printable():
    assert printable("Z\u0307abia  Ła\u0328ka\n") == "Żabia  Łąka"
    assert printable("tab\there") == "tab here"
    assert printable("\u200b\U0001f417 ") == "□"
    assert printable("$x_1$") == "$x_1$"


def block(height: float, **own: object) -> Block:
    return Block(height_mm=height, draw=lambda page, x, y: None, **own)


def test_pour_fills_in_order_and_returns_the_rest():
    blocks = [block(4.0) for _ in range(7)]
    filled, rest = pour(blocks, [Box(0, 0, 10, 9), Box(20, 5, 10, 12)])
    assert [[p.y for p in box] for box in filled] == [[0, 4], [5, 9, 13]]
    assert [p.x for p in filled[1]] == [20, 20, 20]
    assert rest == blocks[5:]


def test_a_heading_is_never_left_alone_at_the_foot():
    title = heading("Why here", 90.0)
    filled, rest = pour([block(5.0), title, block(4.0)], [Box(0, 0, 90, 5.0 + title.height_mm + 2.0)])
    assert len(filled[0]) == 1
    assert rest[0] is title


def test_what_goes_on_in_another_box_has_its_head_again_and_no_gap_on_top():
    title = heading("Why here", 90.0)
    text = [b for _ in range(6) for b in paragraph("One sentence.", 90.0, bullet=True, again=title)]
    height = title.height_mm + 3 * (BODY.line_mm + 0.7) - 0.5
    filled, _ = pour([title, *text], [Box(0, 0, 90, height), Box(0, 0, 90, height)])
    assert filled[1][0].block is title
    assert not filled[1][1].block.is_gap
    rows = table([TableColumn(title="site", width_mm=20.0)], [(f"S-{k}",) for k in range(9)])
    filled, rest = pour(rows, [Box(0, 0, 20, 20)])
    assert Block.opening(rest)[0] is rows[0]


def test_a_block_taller_than_any_box_is_still_set():
    filled, rest = pour([block(50.0), gap(1.0)], [Box(0, 0, 10, 20), Box(0, 0, 10, 20)])
    assert len(filled[0]) == 1
    assert all(b.is_gap for b in rest)
