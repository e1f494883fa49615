"""Columns of even height."""

import pytest

from boscage.sheets.evencolumns import columns_between, even_height
from boscage.sheets.flow import Block, gap, pour
from boscage.sheets.page import Box


def block(height, *, keep=False):
    return Block(height_mm=height, draw=lambda page, x, y: None, keep_next=keep)


def test_equal_blocks_share_alike():
    """Ten blocks of 4 mm in two columns stand 20 mm high: arithmetic."""
    assert even_height([block(4.0)] * 10, 2) == pytest.approx(20.0)
    assert even_height([block(4.0)] * 9, 2) == pytest.approx(20.0)
    assert even_height([], 2) == 0.0


def test_no_column_is_lower_than_its_highest_block():
    assert even_height([block(30.0), block(2.0)], 2) == pytest.approx(30.0)


def test_kept_blocks_are_not_parted():
    kept = [block(5.0), block(5.0, keep=True), block(5.0, keep=True), block(5.0)]
    assert even_height(kept, 2) == pytest.approx(15.0)


def test_nothing_higher_than_allowed():
    blocks = [block(4.0)] * 10
    assert even_height(blocks, 2, most_mm=19.9) is None
    assert even_height(blocks, 2, most_mm=20.0) == pytest.approx(20.0)


@pytest.mark.parametrize("count", [1, 2, 3])
@pytest.mark.parametrize("heights", [(3, 7, 2, 9, 4, 4), (10, 1, 1, 1), (2,) * 17])
def test_the_height_holds_all_and_half_a_millimetre_less_does_not(count, heights):
    blocks = [b for h in heights for b in (block(float(h)), gap(0.5))]
    height = even_height(blocks, count)
    boxes = [Box(0, 0, 10, height)] * count
    assert pour(blocks, boxes)[1] == []
    least = max(sum(b.height_mm for b in blocks) / count, *heights)
    if height > least:
        assert pour(blocks, [Box(0, 0, 10, height - 0.5)] * count)[1] != []


def test_columns_fill_the_width():
    """Three of 20 mm and two gutters of 4 make 68: arithmetic."""
    assert columns_between(10.0, 78.0, 3, gutter_mm=4.0) == [(10.0, 20.0), (34.0, 20.0), (58.0, 20.0)]
