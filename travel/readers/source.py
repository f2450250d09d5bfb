"""What a site's files hold before any value is judged: the same shape for a folder and a GeoPackage."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from travel.domain.layers import LAYERS
from travel.domain.site import InputFile
from travel.readers.notes import Notes


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One feature as it stands in the file. ``number`` counts from 1; ``geometry`` is shaped as in GeoJSON."""

    number: int
    properties: dict[str, Any]
    geometry: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class RawLayer:
    """One layer's features. ``crs`` is None for lon/lat WGS 84 (GeoJSON), else what the file declares."""

    file: str
    features: tuple[Feature, ...] = ()
    crs: str | None = None


@dataclass(slots=True, kw_only=True)
class Source:
    """A site's files, read but not judged. ``broken`` names layers that are there and could not be read, ``unread``
    what else stands beside them."""

    folder: Path
    header_file: str
    header: bytes | None = None
    layers: dict[str, RawLayer] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)
    unread: list[str] = field(default_factory=list)
    inputs: list[InputFile] = field(default_factory=list)


def doubt_name(name: str, notes: Notes) -> None:
    """Write down a layer this program does not know; one that looks misspelt is a fault, lest it count as empty."""
    near = difflib.get_close_matches(name.lower(), LAYERS, n=1, cutoff=0.75)
    if name == "amendments":
        notes.fault("amendments among the site's layers are not read yet", allowed="amendments with the request")
    elif near:
        notes.fault("not a layer name", value=name, allowed=f"did you mean {near[0]}?")
    else:
        notes.doubt(f"{name} is not a layer; it was not read")
