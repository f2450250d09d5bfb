"""Sets paper by typst: tagged PDF/UA-1, no network, no font of the machine it runs on, same input same bytes.

All text goes in as data and never as markup. A character no font has would make the PDF inaccessible (and the
setter refuses it), so it is written by its number, [U+4E2D]; the page in HTML shows it as typed.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from travel.writers.text import upright

FAMILIES = ("Roboto", "Libertinus Serif", "DejaVu Sans Mono", "New Computer Modern")
"""The first from its own package, the rest from the setter itself."""
_LACKING = re.compile(r"the text `\"(.*?)\"` could not be displayed", re.S)
_ESCAPED = re.compile(r"\\u\{([0-9a-fA-F]+)\}")
_MOST_TRIES = 200
_PROBE = (
    '#set document(title: "x", date: none)\n#set text(font: json(bytes(sys.inputs.fonts)), lang: "en")\n'
    "#for one in json(bytes(sys.inputs.data)) [#one #parbreak()]"
)


def set_pdf(template: str, data: Mapping[str, Any]) -> bytes:
    """Give the PDF of a template of ours filled with plain values."""
    import typst

    values = _without_lacking(_cleaned(dict(data)))
    for _ in range(_MOST_TRIES):
        try:
            pdf = typst.compile(
                _source(template),
                font_paths=own_fonts(),
                ignore_system_fonts=True,
                sys_inputs=_inputs(values),
                pdf_standards="ua-1",
            )
        except typst.TypstError as error:
            lacking = _lacking(error)
            if lacking is None:
                raise
            values = _replaced(values, frozenset(lacking))
            continue
        assert isinstance(pdf, bytes)
        return pdf
    raise ValueError("the fonts lack too many of the characters used")


def measure(template: str, data: Mapping[str, Any], label: str) -> dict[str, float]:
    """Give the numbers a template puts down under a label, for what must be drawn to the room that is left."""
    import typst

    values = _without_lacking(_cleaned(dict(data)))
    said = typst.query(
        _source(template),
        f"<{label}>",
        field="value",
        one=True,
        font_paths=own_fonts(),
        ignore_system_fonts=True,
        sys_inputs=_inputs(values),
    )
    found: dict[str, float] = json.loads(said)
    return found


def _source(template: str) -> bytes:
    return (files("travel.writers") / "assets" / template).read_bytes()


def _inputs(values: Any) -> dict[str, str]:
    return {"data": json.dumps(values, ensure_ascii=False, allow_nan=False), "fonts": json.dumps(FAMILIES)}


@cache
def own_fonts() -> Any:
    """Give the fonts everything is set with: one package of ours and those of the setter."""
    import typst

    folder = str(files("font_roboto") / "files")
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[folder])


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for item in value.values():
            yield from _texts(item)
    elif isinstance(value, list):
        for item in value:
            yield from _texts(item)


def _mapped(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {key: _mapped(item, change) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_mapped(item, change) for item in value]
    return value


def _cleaned(values: Any) -> Any:
    """Take out what must not steer the setting: control characters, marks that turn the direction round."""

    def clean(text: str) -> str:
        kept = (
            char if char == "\n" or unicodedata.category(char) not in ("Cc", "Cs", "Co", "Cn") else "\ufffd"
            for char in upright(unicodedata.normalize("NFC", text))
        )  # fmt: skip
        return "".join(kept)

    return _mapped(values, clean)


def _without_lacking(values: Any) -> Any:
    """Replace every cluster of characters that none of the fonts has."""
    wanted = sorted({cluster for text in _texts(values) for cluster in _clusters(text)})
    lacking = _probe(tuple(wanted)) if wanted else frozenset()
    return _replaced(values, lacking) if lacking else values


def _clusters(text: str) -> Iterator[str]:
    """Give the characters beyond Latin-1 one by one, each with the marks that stand on it."""
    cluster = ""
    for char in text:
        if unicodedata.category(char) in ("Mn", "Mc", "Me") and cluster:
            cluster += char
            continue
        if any(ord(one) > 0xFF for one in cluster):
            yield cluster
        cluster = char
    if any(ord(one) > 0xFF for one in cluster):
        yield cluster


@cache
def _probe(wanted: tuple[str, ...]) -> frozenset[str]:
    """Give which of some clusters the fonts lack, by setting them."""
    import typst

    left, lacking = list(wanted), set()
    while left:
        try:
            typst.compile(
                _PROBE.encode("utf-8"),
                font_paths=own_fonts(),
                ignore_system_fonts=True,
                sys_inputs=_inputs(left),
                pdf_standards="ua-1",
            )
        except typst.TypstError as error:
            found = _lacking(error)
            hit = [cluster for cluster in left if found and (cluster in found or found in cluster)]
            if not hit:
                raise
            lacking |= set(hit)
            left = [cluster for cluster in left if cluster not in lacking]
            continue
        break
    return frozenset(lacking)


def _lacking(error: Exception) -> str | None:
    found = _LACKING.search(str(error))
    if found is None:
        return None
    text = _ESCAPED.sub(lambda number: chr(int(number[1], 16)), found[1])
    return text.replace('\\"', '"').replace("\\\\", "\\") or None


def _replaced(values: Any, lacking: frozenset[str]) -> Any:
    pattern = re.compile("|".join(re.escape(item) for item in sorted(lacking, key=lambda item: (-len(item), item))))
    return _mapped(values, lambda text: pattern.sub(lambda found: _numbered(found[0]), text))


def _numbered(text: str) -> str:
    return "".join(char if char.isascii() and char.isprintable() else f"[U+{ord(char):04X}]" for char in text)
