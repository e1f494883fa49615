"""Rows of the ranking, and how one is drawn: a slot for each factor, as wide as its weight, filled by its value."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPen
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from boscage.desk.hub import Desk
from boscage.desk.mapmarks import BY_HAND, PINNED, RANKED, REJECTED, RULED_OUT, mark_shape
from boscage.desk.palettes import LOOKS
from boscage.model.choices import ChoiceOutcome
from boscage.model.desk_answers import RankAnswer, RankedSite

ROW_ROLE = Qt.ItemDataRole.UserRole + 1
SAME_M = 1.0
LEAST_SLOT = 5.0


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row: a ranked site, or a choice that is not ranked.

    Attributes:
        moved: How many ranks it rose since the ranking before, below 0 if it fell; None for a place that was not in it.
        is_first: Whether there was no ranking before.
    """

    site: RankedSite | None = None
    outcome: ChoiceOutcome | None = None
    moved: int | None = None
    is_first: bool = True

    @property
    def moved_words(self) -> str:
        """What moved, or ''."""
        if self.is_first or self.moved == 0:
            return ""
        if self.moved is None:
            return "new"
        return f"up {self.moved}" if self.moved > 0 else f"down {-self.moved}"


def rows_of(answer: RankAnswer, before: RankAnswer | None) -> tuple[Row, ...]:
    """The rows of a ranking, with what moved since another."""
    rows = []
    for site in answer.sites:
        gap = None
        for old in before.sites if before is not None else ():
            if math.hypot(old.x_m - site.x_m, old.y_m - site.y_m) < SAME_M:
                gap = old.rank - site.rank
        rows.append(Row(site=site, moved=gap, is_first=before is None))
    rows += [Row(outcome=o) for o in (*answer.ruled_out, *answer.rejected)]
    return tuple(rows)


def firmness_words(site: RankedSite) -> str:
    """How firm its rank is, in a few words; that it is not known yet is said."""
    if site.low_rank is None or site.high_rank is None:
        return "steadiness: being worked out"
    span = f"keeps rank {site.low_rank}" if site.low_rank == site.high_rank else (
        f"rank {site.low_rank} to {site.high_rank} in 9 of 10 draws"
    )  # fmt: skip
    first = f"first in {site.top_rank_share:.0%}" if site.top_rank_share is not None else ""
    return ", ".join(part for part in (span, first) if part)


def row_words(row: Row) -> str:
    """A row for a screen reader."""
    if row.site is None:
        return row.outcome.sentence if row.outcome is not None else ""
    site = row.site
    said = [f"{site.site}, rank {site.label or site.rank}, score {site.score:.0f}"]
    said += ["pinned"] if site.pinned else []
    said += ["added by hand"] if site.by_hand else []
    said += [row.moved_words] if row.moved_words else []
    said += [f"{b.title} {'no data' if b.value is None else format(b.value, '.0%')}" for b in site.bars]
    return "; ".join([*said, firmness_words(site)])


class SiteRows(QAbstractListModel):
    """The rows as Qt lists them."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.rows: tuple[Row, ...] = ()

    def set_rows(self, rows: Sequence[Row]) -> None:
        """Show other rows."""
        self.beginResetModel()
        self.rows = tuple(rows)
        self.endResetModel()

    def row_of(self, site: str) -> int:
        """Where a site stands, or -1."""
        return next((n for n, r in enumerate(self.rows) if r.site is not None and r.site.site == site), -1)

    def rowCount(self, parent: QModelIndex | None = None) -> int:
        """How many rows there are."""
        return 0 if parent is not None and parent.isValid() else len(self.rows)

    def data(self, index: QModelIndex, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """A row, or its words."""
        if not index.isValid():
            return None
        row = self.rows[index.row()]
        if role == ROW_ROLE:
            return row
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return row_words(row)
        if role == Qt.ItemDataRole.ToolTipRole and row.site is not None:
            return "\n".join((*row.site.flags, *row.site.why[:4], row.site.support_note))
        return None


class RowDelegate(QStyledItemDelegate):
    """Draws rows; nothing is told by colour alone."""

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex) -> QSize:
        """Three lines of a site; as many as it takes of a sentence."""
        row: Row = index.data(ROW_ROLE)
        tall = option.fontMetrics.height()
        if row.site is not None:
            return QSize(200, 2 * tall + bar_height(tall) + 16)
        width = max(option.rect.width(), self.parent().viewport().width()) - left_of(tall) - 12  # type: ignore[union-attr]
        flags = Qt.TextFlag.TextWordWrap
        box = option.fontMetrics.boundingRect(0, 0, width, 10_000, flags, row_words(row))
        return QSize(200, max(box.height(), 2 * tall) + 12)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        """Draw a row."""
        look, row = LOOKS[self._desk.palette], index.data(ROW_ROLE)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        box = QRectF(option.rect)
        painter.fillRect(box, QColor(look.band if chosen else look.base))
        painter.setPen(QPen(QColor(look.line), look.width))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        if chosen:
            painter.fillRect(QRectF(box.left(), box.top(), 5, box.height()), QColor(look.mark))
        painter.setFont(option.font)
        if row.site is not None:
            self._paint_site(painter, box, row)
        else:
            self._paint_outcome(painter, box, row)
        painter.restore()

    def _paint_site(self, painter: QPainter, box: QRectF, row: Row) -> None:
        look, site = LOOKS[self._desk.palette], row.site
        assert site is not None, "a site's row"
        metrics = painter.fontMetrics()
        tall, left = metrics.height(), box.left() + left_of(metrics.height())
        right = box.right() - 8
        kind = BY_HAND if site.by_hand else PINNED if site.pinned else RANKED
        self._paint_mark(painter, QPointF(box.left() + 8 + 1.1 * tall, box.top() + 1.3 * tall + 4), kind, site, tall)
        bold = QFont(painter.font())
        bold.setBold(True)
        line = QRectF(left, box.top() + 5, right - left, tall)
        painter.setPen(QColor(look.text))
        score = f"{site.score:.0f}"
        with _font(painter, bold):
            painter.drawText(line, Qt.AlignmentFlag.AlignLeft, site.site)
            painter.drawText(line, Qt.AlignmentFlag.AlignRight, score)
            name, end = (
                painter.fontMetrics().horizontalAdvance(site.site),
                painter.fontMetrics().horizontalAdvance("100"),
            )
        extra = [w for w in (
            "pinned" if site.pinned else "", "by hand" if site.by_hand else "", row.moved_words, site.support,
        ) if w]  # fmt: skip
        room = QRectF(left + name + 8, line.top(), right - left - name - end - 16, tall)
        painter.drawText(room, Qt.AlignmentFlag.AlignLeft, metrics.elidedText(
            " · ".join(extra), Qt.TextElideMode.ElideRight, int(room.width())))  # fmt: skip
        paint_bars(painter, QRectF(left, line.bottom() + 4, right - left, bar_height(tall)), site, self._desk)
        painter.setPen(QColor(look.quiet))
        foot = QRectF(left, line.bottom() + bar_height(tall) + 6, right - left, tall)
        words = f"{len(site.flags)} flag{'s' if len(site.flags) != 1 else ''} · " if site.flags else ""
        painter.drawText(foot, Qt.AlignmentFlag.AlignLeft, metrics.elidedText(
            words + firmness_words(site), Qt.TextElideMode.ElideRight, int(foot.width())))  # fmt: skip

    def _paint_mark(self, painter: QPainter, at: QPointF, kind: str, site: RankedSite | None, tall: int) -> None:
        look = LOOKS[self._desk.palette]
        painter.setPen(QPen(QColor(look.text), 2.0))
        painter.setBrush(QBrush(QColor("#ffffff" if kind != REJECTED else look.base)))
        painter.drawPath(mark_shape(kind, at, 0.95 * tall))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        text = (site.label or str(site.rank)) if site is not None else "!" if kind == RULED_OUT else ""
        painter.setPen(QColor("#101010"))
        bold = QFont(painter.font())
        bold.setBold(True)
        with _font(painter, bold):
            box = QRectF(at.x() - 2 * tall, at.y() - tall, 4 * tall, 2 * tall)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_outcome(self, painter: QPainter, box: QRectF, row: Row) -> None:
        look = LOOKS[self._desk.palette]
        tall = painter.fontMetrics().height()
        kind = REJECTED if row.outcome is not None and row.outcome.state == "rejected" else RULED_OUT
        self._paint_mark(painter, QPointF(box.left() + 8 + 1.1 * tall, box.center().y()), kind, None, int(0.8 * tall))
        painter.setPen(QColor(look.text))
        left = box.left() + left_of(tall)
        room = QRectF(left, box.top() + 6, box.right() - 8 - left, box.height() - 10)
        painter.drawText(room, Qt.TextFlag.TextWordWrap, row_words(row))


def left_of(tall: int) -> float:
    """Where a row's text begins, behind its mark, for text of a height."""
    return 2.4 * tall + 10


def bar_height(tall: int) -> int:
    """Height of a row's bars for text of a height."""
    return max(10, round(0.75 * tall))


def slots(site: RankedSite, left: float, width: float) -> list[tuple[float, float]]:
    """Left edge and width of each factor's slot: as the weights are, but never too narrow to be seen."""
    total = sum(b.weight for b in site.bars) or 1.0
    wide = [max(LEAST_SLOT, width * b.weight / total) for b in site.bars]
    scale = width / (sum(wide) or 1.0)
    edges, at = [], left
    for each in wide:
        edges.append((at, each * scale))
        at += each * scale
    return edges


def paint_bars(painter: QPainter, box: QRectF, site: RankedSite, desk: Desk) -> None:
    """A slot for each factor: filled as far as its value, hatched where there are no data."""
    look = LOOKS[desk.palette]
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    for bar, (left, width) in zip(site.bars, slots(site, box.left(), box.width()), strict=True):
        slot = QRectF(round(left), round(box.top()), round(left + width) - round(left) - 2, box.height())
        painter.setPen(QPen(QColor(look.text), 1))
        if bar.value is None:
            painter.setBrush(QBrush(QColor(look.text), Qt.BrushStyle.BDiagPattern))
            painter.drawRect(slot)
            continue
        painter.setBrush(QColor(look.hollow))
        painter.drawRect(slot)
        painter.fillRect(QRectF(slot.left(), slot.top(), round(slot.width() * bar.value), slot.height() + 1),
                         QColor(look.bar))  # fmt: skip
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)


class _font:
    """Another font for a while."""

    def __init__(self, painter: QPainter, font: QFont) -> None:
        self._painter, self._font, self._old = painter, font, QFont(painter.font())

    def __enter__(self) -> None:
        self._painter.setFont(self._font)

    def __exit__(self, *_: object) -> None:
        self._painter.setFont(self._old)
