"""Printed pages as they will come out: one at a time, in colour or grey, and printed from there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, QUrl
from PySide6.QtGui import QDesktopServices, QKeyEvent, QPixmap, QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from boscage.desk.asking import Latest
from boscage.desk.hub import Desk
from boscage.desk.pageimages import PageImages, dpi_for, shown_as
from boscage.desk.sheetside import SheetSide
from boscage.model.desk_answers import Failure, JobDone
from boscage.model.desk_pages import PageImage, PageRequest, PageSet, PagesRequest

READ_FROM = ("scout.json", "rig.json")
UNSAVED = "Edits that are not saved (Ctrl+S) are not in it."
LIST_KEYS = (Qt.Key.Key_PageDown, Qt.Key.Key_PageUp, Qt.Key.Key_Home, Qt.Key.Key_End, Qt.Key.Key_Left,
             Qt.Key.Key_Right)  # fmt: skip


class SheetPane(QWidget):
    """Pages of one kind; see `boscage.model.desk_pages.PAGE_KINDS`."""

    def __init__(self, desk: Desk, kind: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk, self.kind = desk, kind
        self._lays, self._draws, self._prints = (Latest(desk, self, job=True) for _ in range(3))
        self.pages: PageSet | None = None
        self.number, self.zoom, self.fits = 1, 1.0, "width"
        self.is_stale = True
        self._laid_at: tuple[int, ...] = ()
        self._images = PageImages()
        self._fresh_sites: tuple[str, ...] | None = None
        self.side = SheetSide(kind)
        self.page_list, self.site_list = self.side.page_list, self.side.site_list
        self.sheet, self.scroll, self.status = QLabel(), QScrollArea(), QLabel()
        self.grey = QPushButton("&Grey (G)", checkable=True)
        self.buttons: dict[str, QPushButton] = {}
        self._lay_out()
        desk.planOpened.connect(self._reset)
        desk.planClosed.connect(self._reset)
        self.side.pagePicked.connect(self.go_to)
        self.side.sitesTicked.connect(self._ticked)
        self.side.changed.connect(self.lay_out)
        for signal in (desk.planChanged, desk.rankingChanged):
            signal.connect(self._outdated)

    # making

    def _lay_out(self) -> None:
        bar = QHBoxLayout()
        words = {
            "back": ("&Previous (PgUp)", self.previous), "on": ("&Next (PgDn)", self.next),
            "width": ("Fit &width (W)", lambda: self.set_fit("width")),
            "whole": ("Whole p&age (A)", lambda: self.set_fit("page")),
            "in": ("Closer (+)", lambda: self.set_zoom(1.25)), "out": ("Wider (-)", lambda: self.set_zoom(0.8)),
        }  # fmt: skip
        for name, (text, call) in words.items():
            bar.addWidget(self._button(name, text, call))
        bar.addWidget(self.grey)
        self.grey.toggled.connect(self._show_page)
        self.grey.setToolTip("How the page comes out of a black-and-white printer")
        bar.addStretch(1)
        for name, (text, call) in {
            "again": ("Lay out again (F5)", self.lay_out), "print": ("Pr&int PDF (Ctrl+P)", self.print_pdf),
            "folder": ("Open f&older", self.open_folder),
        }.items():  # fmt: skip
            bar.addWidget(self._button(name, text, call))
        self.sheet.setAlignment(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop)
        self.scroll.setWidget(self.sheet)
        self.scroll.setWidgetResizable(True)
        self.scroll.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.scroll.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.scroll.setAccessibleName("Page")
        self.scroll.setBackgroundRole(self.backgroundRole().Mid)
        for part in (self.scroll, self.page_list, self.site_list):
            part.installEventFilter(self)
        self.status.setWordWrap(True)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(self.side)
        split.addWidget(self.scroll)
        split.setStretchFactor(1, 1)
        split.setSizes([210, 900])
        split.setChildrenCollapsible(False)
        box = QVBoxLayout(self)
        box.setContentsMargins(8, 6, 8, 6)
        box.addLayout(bar)
        box.addWidget(self.status)
        box.addWidget(split, 1)

    def _button(self, name: str, text: str, call: Any) -> QPushButton:
        button = QPushButton(text)
        button.setAutoDefault(False)
        button.clicked.connect(lambda _=False: call())
        self.buttons[name] = button
        return button

    # laying out

    def shown(self) -> None:
        """Lay the pages out where they are not, or not for what is now."""
        if (self.is_stale or self._stamp() != self._laid_at) and not self._lays.waits:
            self.lay_out()
        self.scroll.setFocus()

    def _stamp(self) -> tuple[int, ...]:
        """What changes where the plan or what an earlier run left does."""
        plan, out = self._desk.plan, self._desk.out
        if plan is None or out is None:
            return ()
        paths = (plan, *(out / name for name in READ_FROM))
        return tuple(p.stat().st_mtime_ns if p.exists() else 0 for p in paths)

    def choose_sites(self, sites: Sequence[str]) -> None:
        """Pages for these sites."""
        if self.pages is None or self.pages.chosen != tuple(sites):
            self._fresh_sites, self.is_stale = tuple(sites), True

    def request(self) -> PagesRequest:
        """What is asked for as things are ticked."""
        side = self.side
        sites = self._fresh_sites if self._fresh_sites is not None else side.ticked()
        return PagesRequest(
            kind=self.kind, plan=str(self._desk.plan), out=str(self._desk.out), sites=sites, owner=side.chosen_owner(),
            exact=side.exact.isChecked(), live=side.live.isChecked(),
        )  # fmt: skip

    def lay_out(self) -> None:
        """Ask for the pages as the command would print them now."""
        if self._desk.plan is None:
            self._say("No plan is open.")
            return
        self.is_stale, self._laid_at = False, self._stamp()
        self._say("Laying out the pages …")
        self._lays.ask("pages", self.request(), self._laid, self._failed, self._told)

    def _told(self, payload: Any) -> None:
        step, done, total = payload
        self._say(f"{step[:1].upper()}{step[1:]}{f', {done} of {total}' if total > 1 else ''} …")

    def _laid(self, pages: PageSet) -> None:
        self.pages, self._fresh_sites = pages, None
        self._images.clear()
        self.side.fill(pages)
        if not pages.rows:
            self.sheet.setPixmap(QPixmap())
            self._say(" ".join(pages.sentences) or "There is no page.")
            return
        self.go_to(min(self.number, len(pages.rows)), again=True)

    def _failed(self, failure: Failure) -> None:
        self.is_stale = True
        self.pages = None
        self.page_list.clear()
        self.sheet.setPixmap(QPixmap())
        self._say(failure.sentence)

    def _ticked(self) -> None:
        if self.side.ticked():
            self.lay_out()
        else:
            self._say("Tick a site: without any, the command takes those that the last ranking chose together.")

    def _reset(self, _: object = None) -> None:
        self.pages, self.is_stale, self.number = None, True, 1
        for latest in (self._lays, self._draws, self._prints):
            latest.forget()
        self._images.clear()
        self.side.clear()
        self.sheet.setPixmap(QPixmap())
        self._say("")
        if self.isVisible():
            self.shown()

    def _outdated(self, _: object = None) -> None:
        if self.pages is not None:
            self.is_stale = True
            self._say("The plan or the ranking was changed since: F5 lays the saved plan out again.")

    # pages

    def next(self) -> None:
        """Go to the next page."""
        self.go_to(self.number + 1)

    def previous(self) -> None:
        """Go to the page before."""
        self.go_to(self.number - 1)

    def go_to(self, number: int, *, again: bool = False) -> None:
        """Go to a page, by number from 1; past the ends nothing happens."""
        if self.pages is None or not 1 <= number <= len(self.pages.rows) or (number == self.number and not again):
            return
        self.number = number
        self.side.show_page(number)
        self.scroll.verticalScrollBar().setValue(0)
        self._ask_page()
        self._tell_page()

    def set_fit(self, fits: str) -> None:
        """Fit the `width` or the whole `page`."""
        self.fits, self.zoom = fits, 1.0
        self._ask_page()

    def set_zoom(self, factor: float) -> None:
        """Closer or wider."""
        self.zoom = min(max(self.zoom * factor, 0.3), 4.0)
        self._ask_page()

    def _scale(self) -> float:
        """Screen pixels a millimetre of paper."""
        assert self.pages is not None
        room = self.scroll.viewport().size()
        wide = (room.width() - 8) / self.pages.width_mm
        high = (room.height() - 8) / self.pages.height_mm
        return max(wide if self.fits == "width" else min(wide, high), 0.5) * self.zoom

    def _dpi(self) -> float:
        return dpi_for(self._scale() * 25.4 * self.devicePixelRatioF())

    def _has(self, number: int) -> bool:
        return self.pages is not None and (self.pages.serial, number, self._dpi()) in self._images

    def _ask_page(self) -> None:
        """Show the page where it is held, else ask for it."""
        if self.pages is None or not self.pages.rows:
            return
        self._show_page()
        if not self._has(self.number):
            self._draw(self.number)

    def _draw(self, number: int) -> None:
        assert self.pages is not None
        asked = PageRequest(kind=self.kind, serial=self.pages.serial, number=number, dpi=self._dpi())
        self._draws.ask("page", asked, self._drawn, lambda failure: self._say(failure.sentence))

    def _drawn(self, image: PageImage) -> None:
        """Show it; the page after the one that is shown is asked for behind it."""
        self._images.keep(image)
        if self.pages is None:
            return
        if image.number == self.number:
            self._show_page()
        wanted = self.number if not self._has(self.number) else self.number + 1
        if wanted <= len(self.pages.rows) and not self._has(wanted):
            self._draw(wanted)

    def _show_page(self) -> None:
        """Show the held picture of the page that is closest to the size wanted."""
        if self.pages is None or not self.pages.rows:
            return
        image = self._images.best(self.pages.serial, self.number, self._dpi())
        if image is None:
            self.sheet.setPixmap(QPixmap())
            return
        ratio = self.devicePixelRatioF()
        wide = round(self._scale() * self.pages.width_mm * ratio)
        self.sheet.setPixmap(shown_as(image, wide, ratio, grey=self.grey.isChecked()))

    def _tell_page(self) -> None:
        assert self.pages is not None
        row = self.pages.rows[self.number - 1]
        words = f"Page {row.number} of {len(self.pages.rows)}: {row.title}. {self.pages.file}"
        self.sheet.setAccessibleDescription(words)
        edits = self._desk.edits
        unsaved = [UNSAVED] if edits is not None and not edits.is_saved else []
        self._say(" ".join([f"{words}.", *unsaved, *self.pages.sentences]))

    # printing

    def print_pdf(self) -> None:
        """Run the command, so that its files are those it always writes."""
        if self._desk.plan is None:
            return
        self._say("Printing …")
        self._prints.ask("print", self.request(), self._printed, self._not_printed, self._told)

    def _printed(self, done: JobDone) -> None:
        words = f"Written to {done.folder}: {', '.join(done.files)}." if done.files else "Nothing was written."
        self._say(words)
        self._desk.say(words, "done")

    def _not_printed(self, failure: Failure) -> None:
        self._say(failure.sentence)
        self._desk.say(failure.sentence, "error")

    def open_folder(self) -> None:
        """Open the folder of the outputs in the system's own window."""
        out = self._desk.out
        if out is None or not out.is_dir():
            self._say("Nothing is written yet.")
            return
        if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(out))):
            self._say(f"The folder is {out}")

    # looks and keys

    def _say(self, words: str) -> None:
        self.status.setText(words)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the page to the new room."""
        super().resizeEvent(event)
        self._ask_page()

    def event(self, event: QEvent) -> bool:
        """The pane's own keys come before the same keys of the window."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and self._call(event):
            event.accept()
            return True
        return super().event(event)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keys over the page turn it; over a list only those that move nothing in it."""
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            call = self._call(event)
            if call is not None and (watched is self.scroll or event.key() not in LIST_KEYS):
                call()
                return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """The same keys anywhere in the pane."""
        call = self._call(event)
        if call is not None:
            call()
        else:
            super().keyPressEvent(event)

    def _call(self, event: QKeyEvent) -> Callable[[], Any] | None:
        """What a key does here, or None."""
        key, Key = event.key(), Qt.Key
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            return self.print_pdf if key == Key.Key_P else None
        if event.modifiers() & Qt.KeyboardModifier.AltModifier:
            return None
        return {
            Key.Key_PageDown: self.next, Key.Key_PageUp: self.previous, Key.Key_Right: self.next,
            Key.Key_Left: self.previous, Key.Key_W: lambda: self.set_fit("width"),
            Key.Key_A: lambda: self.set_fit("page"), Key.Key_Plus: lambda: self.set_zoom(1.25),
            Key.Key_Equal: lambda: self.set_zoom(1.25), Key.Key_Minus: lambda: self.set_zoom(0.8),
            Key.Key_G: self.grey.toggle, Key.Key_F5: self.lay_out, Key.Key_Home: lambda: self.go_to(1),
            Key.Key_End: lambda: self.go_to(len(self.pages.rows) if self.pages is not None else 1),
        }.get(key)  # fmt: skip
