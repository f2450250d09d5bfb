"""Reading a bad site for its faults."""

from __future__ import annotations

from pathlib import Path

from tests.builders import vocabulary
from travel.errors import Fault, InputError
from travel.readers.site import read_site

WORDS = vocabulary()


def faults_of(path: Path) -> tuple[Fault, ...]:
    try:
        read_site(path, WORDS)
    except InputError as error:
        return error.faults
    return ()


def places_of(faults: tuple[Fault, ...]) -> list[tuple[str, str, str, str]]:
    return [(fault.file, fault.layer, fault.feature, fault.field) for fault in faults]
