"""The bar of plain sentences, and questions that are answered in it: nothing here stops anybody."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QSizePolicy, QWidget

KIND_WORDS = {"error": "Cannot be done", "note": "Note", "done": "Done", "ask": "Question"}
MOST_SENTENCES = 3


class SayBar(QFrame):
    """One sentence, or a few, with a button to put them away; or one question with a line to answer in."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "saybar")
        self._said: list[str] = []
        self.kind = ""
        self._kind = QLabel(self)
        self._kind.setProperty("role", "head")
        self._text = QLabel(self)
        self._text.setWordWrap(True)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
        self._text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.line = QLineEdit(self)
        self.line.returnPressed.connect(lambda: self._answer(0))
        self._buttons = [QPushButton(self) for _ in range(2)]
        for n, button in enumerate(self._buttons):
            button.clicked.connect(lambda _=False, n=n: self._answer(n))
        self._away = QPushButton("Put away (Esc)", self)
        self._away.clicked.connect(self.put_away)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(10, 5, 8, 5)
        for widget, stretch in ((self._kind, 0), (self._text, 3), (self.line, 2)):
            layout.addWidget(widget, stretch)
        for button in (*self._buttons, self._away):
            layout.addWidget(button)
        self._answers: Sequence[Callable[[str], object]] = ()
        self.hide()

    @property
    def text(self) -> str:
        """What it says."""
        return self._text.text() if not self.isHidden() else ""

    def say(self, sentence: str, kind: str = "note") -> None:
        """Say something; a few sentences of a kind stand together. A question stays until it is answered."""
        if self.kind == "ask" and not self.isHidden():
            self._text.setText(f"{self._text.text()} {sentence}" if sentence not in self._text.text() else
                               self._text.text())  # fmt: skip
            return
        if self.isHidden() or kind != self.kind:
            self._said = []
        if sentence in self._said:
            self._said.remove(sentence)
        self._said = [*self._said, sentence][-MOST_SENTENCES:]
        self._show(kind, " ".join(self._said), (), line=False)

    def ask(
        self, question: str, buttons: Sequence[tuple[str, Callable[[str], object]]], *, line: bool, hint: str = ""
    ) -> None:
        """Ask something.

        Args:
            question: One sentence.
            buttons: Words and what is called with the line's text, two at the most; Enter is the first.
            line: Whether there is a line to answer in.
            hint: What stands in the line before anything is typed.
        """
        self._said = []
        self._show("ask", question, buttons, line=line)
        self.line.setPlaceholderText(hint)
        self.line.setAccessibleName(question)
        self.line.clear()
        (self.line if line else self._buttons[0]).setFocus(Qt.FocusReason.OtherFocusReason)

    def put_away(self) -> None:
        """Say nothing any more."""
        self.hide()
        self.kind, self._said, self._answers = "", [], ()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Esc puts it away."""
        if event.key() == Qt.Key.Key_Escape:
            self.put_away()
        else:
            super().keyPressEvent(event)

    def _show(
        self, kind: str, text: str, buttons: Sequence[tuple[str, Callable[[str], object]]], *, line: bool
    ) -> None:
        self.kind, self._answers = kind, [call for _, call in buttons]
        self._kind.setText(KIND_WORDS.get(kind, kind))
        self._text.setText(text)
        self.setAccessibleName(f"{KIND_WORDS.get(kind, kind)}: {text}")
        self.line.setVisible(line)
        for n, button in enumerate(self._buttons):
            button.setVisible(n < len(buttons))
            if n < len(buttons):
                button.setText(buttons[n][0])
        self.setProperty("kind", kind)
        for widget in (self, self._kind, self._text):
            widget.style().unpolish(widget)
            widget.style().polish(widget)
        self.show()

    def _answer(self, number: int) -> None:
        if number >= len(self._answers):
            return
        call, text, wants = self._answers[number], self.line.text().strip(), not self.line.isHidden()
        if wants and number == 0 and not text:
            self.line.setFocus()
            return
        self.put_away()
        call(text)
