"""Words of the window that more than one part needs: the keys, and what F1 shows."""

from __future__ import annotations

KEYS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("Anywhere", (
        ("F1", "these keys"), ("Ctrl+O", "open a plan"), ("Ctrl+N", "the first page: make a plan"),
        ("Ctrl+S", "save the plan"), ("Ctrl+R", "read the plan and its layers again"),
        ("Ctrl+Z / Ctrl+Shift+Z", "undo / make again"),
        ("Ctrl+1 …", "the views, in their order"), ("Ctrl+0", "text at its usual size"),
        ("Ctrl++ / Ctrl+-", "larger / smaller text"), ("Ctrl+U", "US customary or metric"),
        ("Ctrl+H", "the next palette: standard, high contrast, proof against colour blindness"),
        ("F6 / Shift+F6", "to the next part / the part before"), ("Esc", "put the bar of sentences away"),
        ("Ctrl+.", "stop the job that runs"), ("Ctrl+Q", "close"),
    )),
    ("Map", (
        ("Arrow keys, Shift for more", "move"), ("+ / -", "zoom"), ("Home", "the whole ranch"),
        ("Space, Enter or a click", "everything that is known of the place at the cross or under the cursor"),
        ("Wheel", "zoom about the cursor"), ("Double click on a site", "bring it into the middle"),
        ("Menu key, Shift+F10 or right click", "what can be done here"),
        ("N / B", "the next site / the site before"),
    )),
    ("Sites", (
        ("P", "pin the chosen site, or let it go"), ("R", "reject the chosen site; the reason is asked for"),
        ("A", "add the place at the cross, or the one that was asked for, as a site"),
        ("Enter in the list", "bring the site into the middle of the map"),
    )),
)  # fmt: skip


def keys_html() -> str:
    """All keys as a page."""
    parts = []
    for title, rows in KEYS:
        cells = "".join(f"<tr><td><b>{key}</b>&nbsp;&nbsp;</td><td>{words}</td></tr>" for key, words in rows)
        parts.append(f"<p><b>{title}</b></p><table cellpadding='2'>{cells}</table>")
    return "".join(parts)
