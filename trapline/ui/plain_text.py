"""Text that comes from files or from the user, made fit to be shown as it is."""

import html
import re

# So many letters without a gap are broken where there is no other way.
_LONG_RUN = re.compile(r"(\S{24})(?=\S)")


def breakable(text: str) -> str:
    """Return text that a label can wrap anywhere in a very long word: it never widens a window."""
    return _LONG_RUN.sub("\\1\u200b", text)


def plain_tip(text: str) -> str:
    """Return text for a tooltip that shows it as it is and wraps: Qt takes some of it for HTML."""
    return f"<p>{html.escape(breakable(text))}</p>" if text else ""
