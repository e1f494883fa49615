"""Field forms as values: what is asked, in which words, within which bounds; and a log that came out of them.

The words of XLSForm are used for types, expressions and parameters. What each form asks is in `form_questions`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from boscage.errors import InputError
from boscage.model.ledger import Log

SITES = "sites"
"""Name of the list of sites, which is filled in when a form is written."""
OTHER = "other"
"""Choice of a place that is on no list."""
MOST_REVISIONS = 99
_REFERENCE = re.compile(r"\$\{(\w+)\}")
_NAME = re.compile(r"^[a-z][a-z0-9_]*$")


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One answer of a list: the word that is stored, and what people read."""

    name: str
    label: str


@dataclass(frozen=True, kw_only=True)
class Question:
    """One question, or a note that asks nothing.

    Attributes:
        type: In the words of XLSForm, without the name of a list: `date`, `select_one`, `note`.
        name: Small letters, digits and underscores; it becomes a column.
        label, hint: What people read; '' for neither.
        required: Whether the form cannot be finished without an answer.
        constraint: Expression that an answer must meet, or ''.
        message: What people read when it does not.
        relevant: Expression that says when it is asked at all, or ''.
        choices: Name of a list, for selects.
        parameters: Such as the accuracy of a place.
        appearance: How it is shown.
        calculation: Expression of a value that nobody is asked for.
        default: Answer that stands there first; a word or an expression.
    """

    type: str
    name: str
    label: str = ""
    hint: str = ""
    required: bool = False
    constraint: str = ""
    message: str = ""
    relevant: str = ""
    choices: str = ""
    parameters: str = ""
    appearance: str = ""
    calculation: str = ""
    default: str = ""


@dataclass(frozen=True, kw_only=True)
class Repeat:
    """Questions that are asked again for each of several things."""

    name: str
    label: str
    questions: tuple[Question, ...]
    relevant: str = ""


@dataclass(frozen=True, kw_only=True)
class Form:
    """One form.

    Attributes:
        name: `visit`, `check` or `capture`.
        title: What people read in a list of forms.
        items: In the order asked.
        lists: Choices by name of their list; that of the sites is empty until a form is written.
        shown_as: Expression of the name that a filled-in form goes by in the app.
    """

    name: str
    title: str
    items: tuple[Question | Repeat, ...]
    lists: Mapping[str, tuple[Choice, ...]]
    shown_as: str = ""

    def __post_init__(self) -> None:
        names = [q.name for q in self.questions] + [i.name for i in self.items if isinstance(i, Repeat)]
        twice = sorted({n for n in names if names.count(n) > 1})
        assert not twice, f"asked twice: {twice}"
        assert all(_NAME.match(n) for n in names), names
        for question in self.questions:
            assert not question.choices or question.choices in self.lists, question
            unknown = set(_REFERENCE.findall(" ".join(_expressions(question)))) - set(names)
            assert not unknown, f"{question.name} rests on {unknown}"

    @property
    def questions(self) -> tuple[Question, ...]:
        """Every question, those of repeats in their place."""
        return tuple(q for i in self.items for q in (i.questions if isinstance(i, Repeat) else (i,)))

    @property
    def form_id(self) -> str:
        """What a server knows the form by, whatever its version."""
        return f"boscage_{self.name}"


@dataclass(frozen=True, kw_only=True)
class FormLog(Log):
    """A log read from filled-in forms: its rows are numbered in the order of what happened.

    Attributes:
        origins: By number of a row, the table and the row there that it comes from.
    """

    origins: Mapping[int, str] = field(default_factory=dict)


def _expressions(question: Question) -> tuple[str, ...]:
    return question.constraint, question.relevant, question.calculation, question.default


def site_codes(sites: Sequence[str]) -> tuple[str, ...]:
    """A word of plain letters, digits and underscores for each site, all different and none of them `other`.

    >>> site_codes(["DH-01", "DH 01", "7 Éclaté", "Зимник"])
    ('DH_01', 'DH_01_2', 's_7_Eclate', 'site')
    """
    taken, out = {OTHER}, []
    for site in sites:
        ascii_only = unicodedata.normalize("NFKD", site).encode("ascii", "ignore").decode()
        word = re.sub(r"[^A-Za-z0-9]+", "_", ascii_only).strip("_")
        word = word or "site"
        word = f"s_{word}" if word[0].isdigit() else word
        code, count = word, 1
        while code.lower() in taken:
            count += 1
            code = f"{word}_{count}"
        taken.add(code.lower())
        out.append(code)
    return tuple(out)


def site_choices(sites: Iterable[str]) -> tuple[Choice, ...]:
    """The list of sites, each under its own name as it stands, and last the place that is on no list.

    Raises:
        InputError: A site has no name, two have the same, or a name holds what no form can show.
    """
    names = list(sites)
    for number, name in enumerate(names, start=1):
        wrong = _wrong(name, names[: number - 1])
        if wrong:
            raise InputError(
                f"site {number} {wrong}", expected="names that are all different, on one line and without ${",
                mend="rename the site", field="sites",
            )  # fmt: skip
    coded = zip(site_codes(names), names, strict=True)
    listed = tuple(Choice(name=code, label=name) for code, name in coded)
    return (*listed, Choice(name=OTHER, label="A place that is not on this list"))


def _wrong(name: str, before: Sequence[str]) -> str:
    if not name.strip():
        return "has no name"
    if any(n.casefold() == name.casefold() for n in before):
        return f"is named {name!r}, as is one before it"
    if "${" in name or any(unicodedata.category(c) in ("Cc", "Cs") for c in name):
        return f"is named {name!r}, which a form cannot show"
    return ""
