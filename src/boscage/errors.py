"""Errors: one root, each class also the builtin it refines.

A message says what was given, what is allowed and what to do next. The facts are attributes too, so that a
window or a test can use them without reading the sentence.
"""

from __future__ import annotations


class BoscageError(Exception):
    """Root of every error that the program raises on purpose."""


class InputError(BoscageError, ValueError):
    """An input from outside is wrong: a command line, a plan, a layer, a row.

    The message is one plain sentence built from the facts: where it is, what is wrong, how to mend it.

    Args:
        wrong: What was found, without a full stop.
        expected: What would have been right.
        mend: What to do about it.
        file: Path of the file as the user wrote it.
        layer: Name of the layer (a plan's `layers` key, or a layer inside a file).
        field: Column or key.
        row: Row as people count it: 1 is the first row of data (the header is not counted).

    >>> str(InputError("dbh_in is 'thick'", expected="a number of inches", mend="correct the cell",
    ...                file="stems.csv", field="dbh_in", row=4))
    "stems.csv, row 4, field dbh_in: dbh_in is 'thick'; expected a number of inches; correct the cell."
    """

    def __init__(
        self,
        wrong: str,
        *,
        expected: str = "",
        mend: str = "",
        file: str | None = None,
        layer: str | None = None,
        field: str | None = None,
        row: int | None = None,
    ) -> None:
        self.wrong, self.expected, self.mend = wrong, expected, mend
        self.file, self.layer, self.field, self.row = file, layer, field, row
        where = [str(file)] if file else []
        where += [f"layer {layer}"] if layer else []
        where += [f"row {row}"] if row is not None else []
        where += [f"field {field}"] if field else []
        parts = [wrong.rstrip(".")]
        parts += [f"expected {expected}"] if expected else []
        parts += [mend] if mend else []
        text = "; ".join(parts)
        text += "" if text.endswith("?") else "."
        super().__init__(f"{', '.join(where)}: {text}" if where else text)


class UnitError(InputError):
    """A quantity has no unit, an unknown unit, or is no quantity at all."""


class PlanError(InputError):
    """The plan file is wrong: a key, a type, a range."""


class LayerError(InputError):
    """A layer cannot be read or does not hold what it should."""


class CrsError(LayerError):
    """A coordinate reference system is missing, unusable or contradicts the numbers."""


class PluginError(BoscageError, ImportError):
    """A plug-in cannot be loaded, or a name is claimed twice.

    Attributes:
        plugin: Name under which it is registered.
        group: Entry-point group.
    """

    def __init__(self, message: str, *, plugin: str, group: str) -> None:
        self.plugin, self.group = plugin, group
        super().__init__(message)
