"""Patterns of the ground's maps: told apart without colour, harder is darker, unknown is like none of them."""

import itertools

import numpy as np
import pytest

from boscage.model.soil import VERDICTS
from boscage.sheets.groundpatterns import (
    LEAST_STEP,
    POSTS_PATTERNS,
    RESISTANCE_PATTERNS,
    UNKNOWN,
    Pattern,
    draw_swatch,
    paint,
)
from boscage.sheets.page import Box, Page
from boscage.soil.classes import RESISTANCE_MPA

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
PATCH = (240, 240)
LEAST_DIFFERENCE = 0.08
TABLES = pytest.mark.parametrize("patterns", [RESISTANCE_PATTERNS, POSTS_PATTERNS], ids=["resistance", "posts"])


def grey(pattern):
    """Ink of each pixel, 0 white to 1 black."""
    return 1.0 - pattern.paint(PATCH) @ LUMINANCE / 255.0


def mean_ink(pattern):
    """Ink of whole repeats."""
    high, wide = pattern.mask.shape
    return float((1.0 - pattern.paint((high * 4, wide * 4)) @ LUMINANCE / 255.0).mean())


def difference(a, b):
    """Least share of pixels in which the marks of two patterns differ, however one is shifted on the other."""
    first = a.paint(PATCH)[:, :, 1] < (int(a.paper) + int(a.mark)) / 2
    own = b.mask
    whole = np.tile(own, (PATCH[0] // own.shape[0] + 2, PATCH[1] // own.shape[1] + 2))
    shifts = itertools.product(range(own.shape[0]), range(own.shape[1]))
    return min(float((first != whole[r : r + PATCH[0], c : c + PATCH[1]]).mean()) for r, c in shifts)


def test_classes_are_those_of_the_manual_in_order():
    """Soil Survey Manual (USDA Handbook 18), chapter 3, penetration resistance classes; NASIS's own bounds in MPa."""
    assert list(RESISTANCE_PATTERNS) == [
        "extremely low", "very low", "low", "moderate", "high", "very high", "extremely high", UNKNOWN,
    ]  # fmt: skip
    assert [name for _, name in RESISTANCE_MPA] == list(RESISTANCE_PATTERNS)[:-1]
    assert tuple(POSTS_PATTERNS) == VERDICTS


@TABLES
def test_harder_is_darker_by_a_least_step(patterns):
    ink = [mean_ink(p) for name, p in patterns.items() if name != UNKNOWN]
    assert LEAST_STEP >= 0.05
    assert (np.diff(ink) >= LEAST_STEP).all()
    assert ink[-1] < 0.6


@TABLES
def test_every_two_patterns_differ_in_their_marks_alone(patterns):
    """Copied in black and white only, with no grey left."""
    for a, b in itertools.combinations(patterns.values(), 2):
        assert difference(a, b) >= LEAST_DIFFERENCE


def test_the_check_of_marks_sees_patterns_that_only_seem_to_differ():
    dots = RESISTANCE_PATTERNS["low"]
    shifted = Pattern(tile=tuple(row[3:] + row[:3] for row in dots.tile), paper=150, mark=10)
    assert difference(dots, shifted) == 0.0


@TABLES
def test_unknown_alone_is_white_and_has_no_tint(patterns):
    for name, pattern in patterns.items():
        paper, mark = pattern.palette.astype(int)
        assert (paper.min() == 255) == (name == UNKNOWN)
        assert (len(set(paper)) == len(set(mark)) == 1) == (name == UNKNOWN)


@TABLES
def test_no_pattern_leaves_a_wide_blank(patterns):
    """Every square of 3.4 mm (20 pixels) holds a mark, so that a strip of it is told from bare paper."""
    for pattern in patterns.values():
        marks = pattern.paint(PATCH)[:, :, 1] < (int(pattern.paper) + int(pattern.mark)) / 2
        windows = np.lib.stride_tricks.sliding_window_view(marks, (20, 20))
        assert windows.any(axis=(2, 3)).all()


def test_an_image_holds_each_class_where_it_lies():
    classes = np.full((40, 80), -1)
    classes[:, 20:50] = 3
    classes[:, 50:] = 7
    image = paint(classes, RESISTANCE_PATTERNS)
    assert (image[:, :20] == 255).all()
    assert (image[:, 20:50] == RESISTANCE_PATTERNS["moderate"].paint((40, 80))[:, 20:50]).all()
    assert (image[:, 50:] == RESISTANCE_PATTERNS[UNKNOWN].paint((40, 80))[:, 50:]).all()
    assert len(np.unique(image.reshape(-1, 3), axis=0)) <= 5


def test_a_swatch_shows_the_pattern_as_the_map_does():
    page = Page("letter")
    draw_swatch(page, Box(20, 20, 8.0, 5.4), RESISTANCE_PATTERNS["high"])
    (axes,) = page.figure.axes
    shown = axes.images[0].get_array()
    assert (shown == RESISTANCE_PATTERNS["high"].paint(shown.shape[:2])).all()
    assert shown.shape[:2] == (round(5.4 / 25.4 * 150), round(8.0 / 25.4 * 150))
