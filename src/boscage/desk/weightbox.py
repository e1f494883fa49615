"""Weights by hand: a slider and a number for each factor; the ranking follows at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QDoubleSpinBox, QGridLayout, QLabel, QScrollArea, QSlider, QVBoxLayout, QWidget

from boscage.model.desk import FactorRow

STEPS, STEP = 100, 0.1
MOST = 1000.0


class WeightBox(QWidget):
    """A row for each factor.

    Signals:
        moved: Factor and weight while a hand moves it; nothing is decided yet.
        settled: Factor and weight once the hand lets go.
    """

    moved = Signal(str, float)
    settled = Signal(str, float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._rows: dict[str, tuple[QSlider, QDoubleSpinBox, QLabel]] = {}
        self._titles: dict[str, str] = {}
        self._note = QLabel(self)
        self._note.setWordWrap(True)
        self._note.setProperty("role", "quiet")
        self._inner = QWidget()
        self._grid = QGridLayout(self._inner)
        self._grid.setContentsMargins(6, 2, 6, 2)
        self._grid.setVerticalSpacing(1)
        self._grid.setColumnStretch(0, 1)
        self._grid.setColumnStretch(1, 1)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setWidget(self._inner)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(area)
        layout.addWidget(self._note)

    def set_factors(self, factors: tuple[FactorRow, ...], note: str) -> None:
        """Show other factors."""
        while (item := self._grid.takeAt(0)) is not None:
            if item.widget() is not None:
                item.widget().deleteLater()
        self._rows.clear()
        for n, factor in enumerate(factors):
            self._add(n, factor)
        self._note.setText(note)
        self._note.setVisible(bool(note))

    def set_weights(self, weights: Mapping[str, float]) -> None:
        """Show weights without telling anybody; a factor that is absent has the weight 0."""
        for name, (slider, box, _) in self._rows.items():
            if slider.isSliderDown():
                continue
            weight = float(weights.get(name, 0.0))
            with QSignalBlocker(slider), QSignalBlocker(box):
                self._fit(slider, weight)
                slider.setValue(round(weight / STEP))
                box.setValue(weight)

    def set_numbers(self, names: Sequence[str]) -> None:
        """Number the factors as the bars of the ranking do; one that takes no part has none."""
        for name, (_, _, title) in self._rows.items():
            number = f"{names.index(name) + 1} " if name in names else ""
            title.setText(f"{number}{self._titles[name]}")

    def weight(self, factor: str) -> float:
        """The weight that is shown."""
        return self._rows[factor][1].value()

    def controls(self, factor: str) -> tuple[QSlider, QDoubleSpinBox]:
        """Slider and number of a factor."""
        return self._rows[factor][:2]

    def _add(self, n: int, factor: FactorRow) -> None:
        no_data = factor.is_known is False
        self._titles[factor.name] = f"{factor.title}{' (no data)' if no_data else ''}"
        title = QLabel(self._titles[factor.name], self._inner)
        slider = QSlider(Qt.Orientation.Horizontal, self._inner)
        box = QDoubleSpinBox(self._inner)
        box.setRange(0.0, MOST)
        box.setDecimals(1)
        box.setSingleStep(0.5)
        box.setKeyboardTracking(False)
        slider.setSingleStep(5)
        slider.setPageStep(10)
        slider.setRange(0, STEPS)
        self._fit(slider, factor.weight)
        slider.setValue(round(factor.weight / STEP))
        box.setValue(factor.weight)
        title.setBuddy(box)
        title.setWordWrap(True)
        slider.setMinimumWidth(70)
        for widget, what in ((slider, "slider"), (box, "number")):
            widget.setAccessibleName(f"Weight of {factor.title}, {what}")
            widget.setToolTip(f"Weight of {factor.title}; 0 leaves it out. It is the share against the other weights.")
        name = factor.name
        slider.valueChanged.connect(lambda value: self._slid(name, value))
        slider.sliderReleased.connect(lambda: self.settled.emit(name, box.value()))
        box.valueChanged.connect(lambda value: self._typed(name, value))
        for column, widget in enumerate((title, slider, box)):
            self._grid.addWidget(widget, n, column)
        self._rows[name] = (slider, box, title)

    @staticmethod
    def _fit(slider: QSlider, weight: float) -> None:
        if round(weight / STEP) > slider.maximum():
            slider.setMaximum(round(1.5 * weight / STEP))

    def _slid(self, name: str, value: int) -> None:
        slider, box, _ = self._rows[name]
        with QSignalBlocker(box):
            box.setValue(value * STEP)
        (self.moved if slider.isSliderDown() else self.settled).emit(name, box.value())

    def _typed(self, name: str, value: float) -> None:
        slider = self._rows[name][0]
        with QSignalBlocker(slider):
            self._fit(slider, value)
            slider.setValue(round(value / STEP))
        self.settled.emit(name, value)
