"""What the files for phones have in common: text that XML can hold, numbers, descriptions, and writing in one piece."""

from __future__ import annotations

import os
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Mapping
from pathlib import Path

from boscage.model.share import id_of

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
DIGITS = 8


def xml_text(text: str) -> str:
    """The text without the characters that XML 1.0 does not allow, line ends as line feeds.

    References:
        W3C (2008), Extensible Markup Language (XML) 1.0, fifth edition, production 2, Char; section 2.11.

    >>> xml_text("DH-01\\x00 creek\\r\\nbench")
    'DH-01 creek\\nbench'
    """
    return _NOT_XML.sub("", text).replace("\r\n", "\n").replace("\r", "\n")


def one_line(text: str) -> str:
    """The text that XML can hold, on one line, single blanks between words: for names."""
    return " ".join(xml_text(text).split())


def degrees(angle: float) -> str:
    """Degrees to 8 digits, about a millimetre, never with an exponent.

    >>> degrees(-98.5), degrees(1e-12), degrees(31.123456789)
    ('-98.5', '0', '31.12345679')
    """
    return _trimmed(f"{angle:.{DIGITS}f}")


def metres(height: float) -> str:
    """Metres to the centimetre, never with an exponent.

    >>> metres(213.0), metres(-0.001)
    ('213', '0')
    """
    return _trimmed(f"{height:.2f}")


def _trimmed(text: str) -> str:
    short = text.rstrip("0").rstrip(".")
    return "0" if short == "-0" else short


def full_name(name: str, short: str) -> str:
    """The name as it is listed, or the short one where nothing of it can be written."""
    return one_line(name) or short


def label_of(name: str, short: str) -> str:
    """The id that a name begins with, or the short name where it has none."""
    return id_of(one_line(name)) or short


def described(name: str, short: str, facts: Iterable[str]) -> str:
    """One paragraph that begins with the id, then the whole name and the facts that are not empty.

    >>> described("Creek bench", "Creek-benc", ["Kind: site", "", "Oaks all round."])
    'Creek-benc: Creek bench. Kind: site. Oaks all round.'
    """
    whole, label = full_name(name, short), label_of(name, short)
    first = whole if whole.startswith(label) else f"{label}: {whole}"
    parts = [first, *(one_line(fact) for fact in facts)]
    return " ".join(_sentence(part) for part in parts if part)


def _sentence(text: str) -> str:
    """The text with a full stop where it has no end of its own."""
    return text if text.endswith((".", "!", "?")) else f"{text}."


def heading(title: str, day: str, note: str, undrawn: Iterable[str]) -> str:
    """What the whole file says of itself: the note, the date, the datum and what has nothing to draw."""
    empty = "; ".join(one_line(name) or "no name" for name in undrawn)
    facts = [note, f"As of {day}, WGS 84", f"Nothing to draw for: {empty}" if empty else ""]
    return " ".join(_sentence(part) for part in (one_line(title), *map(one_line, facts)) if part)


def child(parent: ET.Element, tag: str, text: str = "", attributes: Mapping[str, str] | None = None) -> ET.Element:
    """Add an element with a text that XML can hold."""
    made = ET.SubElement(parent, tag, dict(attributes or {}))
    made.text = xml_text(text) or None
    return made


def document(root: ET.Element) -> bytes:
    """The document in UTF-8, indented, with its declaration."""
    ET.indent(root, space=" ")
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="utf-8") + b"\n"


def put(target: Path, content: bytes) -> None:
    """Write beside the target, then rename: no half file."""
    part = target.with_name(f".{target.name}.part")
    try:
        part.write_bytes(content)
        os.replace(part, target)
    finally:
        part.unlink(missing_ok=True)
