"""Checks of a drawn page: texts that overlap, leave the paper or leave their drawing; lines in a written PDF."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream

from boscage.sheets.page import Page

LEAST_EDGE_MM = 4.0
MM_PER_PT = 25.4 / 72.0


def text_boxes(page: Page) -> tuple[list[str], np.ndarray]:
    """Every text on a page with its rectangle in mm: left, bottom, right, top."""
    renderer = FigureCanvasAgg(page.figure).get_renderer()
    texts = [t for t in page.figure.findobj(Text) if t.get_visible() and t.get_text().strip()]
    boxes = [t.get_window_extent(renderer).extents for t in texts]
    return [t.get_text() for t in texts], np.array(boxes).reshape(-1, 4) * MM_PER_PT


def overlaps(texts: list[str], boxes: np.ndarray, *, slack_mm: float = 0.1) -> list[tuple[str, str]]:
    """Pairs of texts whose rectangles share more than a sliver."""
    found = []
    for k in range(len(texts)):
        rest = boxes[k + 1 :]
        across = np.minimum(boxes[k, 2], rest[:, 2]) - np.maximum(boxes[k, 0], rest[:, 0])
        along = np.minimum(boxes[k, 3], rest[:, 3]) - np.maximum(boxes[k, 1], rest[:, 1])
        both = (across > slack_mm) & (along > slack_mm)
        found += [(texts[k], texts[k + 1 + int(j)]) for j in np.flatnonzero(both)]
    return found


def outside(page: Page, texts: list[str], boxes: np.ndarray) -> list[str]:
    """Texts that come nearer to the paper's edge than a printer can print."""
    low, high = LEAST_EDGE_MM, np.array([page.width_mm, page.height_mm]) - LEAST_EDGE_MM
    bad = (boxes[:, :2] < low).any(axis=1) | (boxes[:, 2:] > high).any(axis=1)
    return [texts[int(k)] for k in np.flatnonzero(bad)]


def strays(page: Page) -> list[str]:
    """Texts of a drawing that leave the drawing."""
    renderer = FigureCanvasAgg(page.figure).get_renderer()
    found = []
    for axes in page.figure.axes:
        frame = axes.get_window_extent(renderer)
        for text in axes.texts:
            own = text.get_window_extent(renderer)
            if own.x0 < frame.x0 or own.x1 > frame.x1 or own.y0 < frame.y0 or own.y1 > frame.y1:
                found.append(text.get_text())
    return found


def operations(reader: PdfReader, page: PageObject) -> list[tuple[Any, bytes]]:
    """Operands and operators of a page's content."""
    return ContentStream(page.get_contents(), reader).operations


def stroked(reader: PdfReader, page: PageObject, width_pt: float) -> list[np.ndarray]:
    """Straight-sided paths stroked at a width, each (n, 2) mm from the lower left corner."""
    width, points, found = 1.0, [], []
    for operands, operator in operations(reader, page):
        if operator == b"w":
            width = float(operands[0])
        elif operator == b"m":
            points = [[float(v) for v in operands]]
        elif operator == b"l":
            points.append([float(v) for v in operands])
        elif operator in (b"S", b"s"):
            if abs(width - width_pt) < 1e-6 and len(points) > 1:
                found.append(np.array(points) * MM_PER_PT)
            points = []
    return found
